"""The shipped sensor recordings fit their clips, and are what the script makes."""

from __future__ import annotations

import csv
import math
from functools import cache
from itertools import pairwise
from pathlib import Path
from statistics import fmean

import pytest

from demo_clips.render.sensors import CLOCK_AHEAD_S, METER, METERED, write_recording
from posewatch.core.records import SourceCondition, SourceState
from posewatch.core.sensor_records import Battery, CyclingPower, Packet, Turns
from posewatch.demo import sensor_recording
from posewatch.sensors.gatt import decode
from posewatch.store.packet_file import PacketRecording, read_packets

FOLDER = Path(__file__).parents[2] / "demo_clips"
EVERY_CLIP = pytest.mark.parametrize("clip", METERED)
ALL_BYTES = 70_000
#: Nobody drives the crank then, from its slowing to its going on (the clips' own events).
SLACK_S = {"hoods_interruptions": ((21.5, 23.0), (30.0, 31.5))}


@cache
def recorded(clip: str) -> PacketRecording:
    path = sensor_recording(clip)
    assert path is not None
    return read_packets(path)


@cache
def measurements(clip: str) -> list[tuple[float, CyclingPower]]:
    """Return when each measurement came, s, and what it holds."""
    found = []
    for event in recorded(clip).events:
        if isinstance(event, Packet) and event.characteristic == "2A63":
            record = decode(event.characteristic, event.data)
            assert isinstance(record, CyclingPower)
            found.append((event.t_ns / 1e9, record))
    return found


@cache
def tops_s(clip: str) -> list[float]:
    """Return when the crank comes over the top forwards, from the truth."""
    with (FOLDER / f"{clip}.truth.csv").open(encoding="utf-8", newline="") as file:
        rows = [(float(row["time_s"]), float(row["crank_deg"])) for row in csv.DictReader(file)]
    found = []
    for (before_s, before), (after_s, after) in pairwise(rows):
        if before > 270 and after < 90:
            left = 360 - before
            found.append(before_s + (after_s - before_s) * left / (left + after))
    return found


@cache
def turns(clip: str) -> list[tuple[float, float, int, int]]:
    """Return each counted turn: came, s; ended, s; count; torque. The counters are unwrapped.

    The first ended before the clip or at its very beginning.
    """
    found: list[tuple[float, float, int, int]] = []
    last, torque_before = Turns(-1, 0, 1024, 16), 0
    ended = count = torque = 0
    for came_s, record in measurements(clip):
        crank, so_far = record.crank, record.torque_1_32_nm
        assert crank is not None
        assert so_far is not None
        if crank.count == last.count:
            assert (crank, so_far) == (last, torque_before)
            continue
        if not found:
            ended = (crank.ticks - round(CLOCK_AHEAD_S * 1024) + 32768) % 65536 - 32768
        else:
            ended += (crank.ticks - last.ticks) % 65536
            count += (crank.count - last.count) % 65536
            torque += (so_far - torque_before) % 65536
        last, torque_before = crank, so_far
        found.append((came_s, ended / 1024, count, torque))
    return found


@cache
def turns_of_the_clip(clip: str) -> list[tuple[float, float, int, int]]:
    return [turn for turn in turns(clip) if turn[1] > 0.0]


def is_slack(clip: str, begin_s: float, end_s: float) -> bool:
    """Tell whether a time has a stop in it."""
    return any(begin_s < stopped[1] and end_s > stopped[0] for stopped in SLACK_S.get(clip, ()))


@EVERY_CLIP
def test_files_are_what_the_script_makes(clip: str, tmp_path: Path) -> None:
    shipped = FOLDER / "sensors" / f"{clip}.packets.jsonl"
    assert write_recording(clip, tmp_path).read_bytes() == shipped.read_bytes()
    assert write_recording(clip, tmp_path).read_bytes() == shipped.read_bytes()
    assert [path.name for path in tmp_path.iterdir()] == [shipped.name]


def test_no_others_are_shipped_and_they_are_small() -> None:
    files = list((FOLDER / "sensors").iterdir())
    assert {path.name for path in files} == {f"{clip}.packets.jsonl" for clip in METERED}
    assert sum(path.stat().st_size for path in files) <= ALL_BYTES
    assert sensor_recording("hoods_reference") is None


@EVERY_CLIP
def test_it_begins_as_a_recording_does(clip: str) -> None:
    recording = recorded(clip)
    (sensor,) = recording.sensors
    assert (sensor.name, sensor.platform_id) == (METER.name, METER.platform_id)
    assert not recording.torn
    battery, live, first, *_ = recording.events
    assert isinstance(battery, Packet)
    assert decode(battery.characteristic, battery.data) == Battery(87)
    assert isinstance(live, SourceState)
    assert (live.source, live.condition) == (METER.name, SourceCondition.RUNNING)
    assert battery.t_ns == 0 < live.t_ns == first.t_ns
    packets = [event for event in recording.events if isinstance(event, Packet)]
    assert {one.device for one in packets} == {METER.platform_id}
    assert [one.characteristic for one in packets].count("2A19") == 1


@EVERY_CLIP
def test_four_packets_a_second_come_unevenly_until_the_clip_ends(clip: str) -> None:
    came_s = [time_s for time_s, _ in measurements(clip)]
    gaps_s = [later - one for one, later in pairwise(came_s)]
    assert fmean(gaps_s) == pytest.approx(0.25, abs=0.002)
    assert 0.2 <= min(gaps_s) < 0.24
    assert 0.26 < max(gaps_s) <= 0.3
    with (FOLDER / f"{clip}.truth.csv").open(encoding="utf-8") as file:
        last_s = float(file.readlines()[-1].split(",")[0])
    assert last_s - 0.31 < came_s[-1] <= last_s


@EVERY_CLIP
def test_turns_end_at_the_true_tops_and_are_told_soon_after(clip: str) -> None:
    counted, tops = turns_of_the_clip(clip), tops_s(clip)
    assert -1.0 < turns(clip)[0][1] < 0.12
    assert [turn[2] for turn in turns(clip)] == list(range(len(turns(clip))))
    for (came_s, ended_s, *_), top_s in zip(counted, tops, strict=False):
        assert ended_s == pytest.approx(top_s, abs=0.001)
        assert 0.0 < came_s - top_s < 0.32
    untold = tops[len(counted) :]
    assert len(untold) <= 1
    assert all(top_s > measurements(clip)[-1][0] - 0.06 for top_s in untold)


@EVERY_CLIP
def test_cadence_from_the_counters_is_the_true_one(clip: str) -> None:
    counted = [ended_s for _, ended_s, *_ in turns_of_the_clip(clip)]
    said = [60 / (later - one) for one, later in pairwise(counted)]
    true = [60 / (later - one) for one, later in pairwise(tops_s(clip))][: len(said)]
    assert len(said) > 20
    assert said == pytest.approx(true, abs=0.5)


def test_each_counter_goes_past_its_end() -> None:
    for clip in METERED:
        cranks = [record.crank for _, record in measurements(clip) if record.crank is not None]
        torques = [record.torque_1_32_nm or 0 for _, record in measurements(clip)]
        for values in ([c.count for c in cranks], [c.ticks for c in cranks], torques):
            assert any(later < one for one, later in pairwise(values))


@EVERY_CLIP
def test_power_is_200_w_but_for_small_noise(clip: str) -> None:
    powers = [
        record.power_w
        for came_s, record in measurements(clip)
        if not is_slack(clip, came_s - 0.31, came_s)
    ]
    assert fmean(powers) == pytest.approx(200.0, abs=2.0)
    assert all(185 <= power <= 215 for power in powers)
    assert len(set(powers)) > 5


def test_nothing_is_driven_while_coasting_and_back_pedalling() -> None:
    found = measurements("hoods_interruptions")
    for begin_s, end_s in ((22.0, 22.7), (30.5, 31.3)):
        powers = [record.power_w for time_s, record in found if begin_s < time_s < end_s]
        assert len(powers) >= 2
        assert set(powers) == {0}


@EVERY_CLIP
def test_torque_says_the_same_as_power(clip: str) -> None:
    # Work done over all whole turns: 2 pi x torque, and power x time.
    counted = turns(clip)
    (_, first_s, _, _), (_, last_s, _, torque) = counted[0], counted[-1]
    by_torque_w = 2 * math.pi * torque / 32 / (last_s - first_s)
    by_power_w = fmean(record.power_w for _, record in measurements(clip))
    assert by_torque_w == pytest.approx(by_power_w, rel=0.015)
    assert all(r.torque_at_crank for _, r in measurements(clip))
    # And each turn by itself, where the crank is driven throughout.
    for (_, one_s, _, one), (_, ended_s, _, more) in pairwise(counted):
        if not is_slack(clip, one_s, ended_s):
            turn_w = 2 * math.pi * (more - one) / 32 / (ended_s - one_s)
            assert turn_w == pytest.approx(200.0, abs=14.0)
