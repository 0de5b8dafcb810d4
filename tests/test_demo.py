"""The demonstration on the recorded landmarks: what each clip must come to."""

from __future__ import annotations

import threading
from pathlib import Path

import pytest

from posewatch import demo
from posewatch.app import Watcher
from posewatch.core.outputs import CueChanged, HoldLost, Output, Reason, StrokeJudged
from posewatch.core.records import Channel
from posewatch.core.watch_plan import WatchPlan
from posewatch.demo import REFERENCES, RIDES, RideResult, clips_folder, run_demo
from posewatch.errors import BadInput, PosewatchError
from posewatch.replaying import replay
from posewatch.store.packet_file import read_packets
from posewatch.store.session_reader import SessionReader
from posewatch.store.settings import Settings
from posewatch.store.target_shelf import list_targets, read_target

LEAST_YIELD = 0.85


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("demo")


@pytest.fixture(scope="module")
def results(folder: Path) -> dict[tuple[str, str], RideResult]:
    """The whole demonstration, by clip and reference."""
    done: dict[str, int] = {}
    lock = threading.Lock()

    def progress(clip: str, n_done: int, n_expected: int) -> None:
        with lock:
            done[clip] = n_done
        assert n_done <= n_expected

    found = run_demo(True, Settings(data_folder=folder), progress)
    assert set(done) == {ride.clip for ride in RIDES} | {r.clip for r in REFERENCES}
    return {(one.ride.clip, one.ride.reference): one for one in found}


def outputs(
    results: dict[tuple[str, str], RideResult], clip: str, reference: str = "hoods_reference"
) -> tuple[Output, ...]:
    result = results[clip, reference].result
    assert result is not None
    return result.outputs


def losses(said: tuple[Output, ...]) -> list[HoldLost]:
    return [o for o in said if isinstance(o, HoldLost)]


def counted_share(said: tuple[Output, ...]) -> float:
    strokes = [o for o in said if isinstance(o, StrokeJudged)]
    return sum(o.counted for o in strokes) / len(strokes)


def test_nobody_counts_nothing(results: dict[tuple[str, str], RideResult]) -> None:
    result = results["empty_bike", "hoods_reference"].result
    assert result is not None
    assert (result.totals.n_counted, result.totals.n_intervals) == (0, 0)
    assert not any(isinstance(o, StrokeJudged | CueChanged) for o in result.outputs)


def test_a_steady_willing_rider_counts(results: dict[tuple[str, str], RideResult]) -> None:
    said = outputs(results, "hoods_steady")
    assert counted_share(said) >= LEAST_YIELD
    assert losses(said) == []
    result = results["hoods_steady", "hoods_reference"].result
    assert result is not None
    assert result.totals.n_intervals == 1


def test_each_interruption_loses_the_hold_by_its_name(
    results: dict[tuple[str, str], RideResult],
) -> None:
    said = outputs(results, "hoods_interruptions")
    assert [lost.reason for lost in losses(said)] == [
        Reason.OUT_OF_SADDLE,
        Reason.HAND_OFF,
        Reason.COASTED,
        Reason.BACK_PEDALLED,
    ]


def test_drifts_lose_the_hold_by_channel_with_the_way_back(
    results: dict[tuple[str, str], RideResult],
) -> None:
    lost = losses(outputs(results, "hoods_drift"))
    assert [(one.reason, one.channel, one.direction) for one in lost] == [
        (Reason.DRIFT, Channel.TORSO, "taller, straighten arms"),
        (Reason.DRIFT, Channel.SITTING_PLACE, "sit back"),
    ]


def test_a_target_of_the_other_side_is_refused(
    results: dict[tuple[str, str], RideResult], folder: Path
) -> None:
    refused = results["left_side_steady", "hoods_reference"]
    assert (refused.result, refused.picture) == (None, None)
    assert "near side: right / left" in refused.why
    assert not (folder / "sessions" / "left_side_steady").exists()


@pytest.mark.parametrize(
    ("clip", "reference"),
    [
        ("drops_steady", "drops_reference"),
        ("left_side_steady", "left_side_steady"),
        ("dark_kit_dim_room", "dark_kit_dim_room"),
    ],
)
def test_with_its_own_target_every_position_counts(
    results: dict[tuple[str, str], RideResult], clip: str, reference: str
) -> None:
    result = results[clip, reference].result
    assert result is not None
    assert result.totals.n_counted >= 8


def test_clips_with_a_meter_are_held_at_its_power(
    results: dict[tuple[str, str], RideResult], folder: Path
) -> None:
    for clip in ("hoods_steady", "hoods_drift", "hoods_interruptions", "drops_steady"):
        with SessionReader(folder / "sessions" / clip) as session:
            assert session.header.plan.power_w == demo.POWER_W
            assert session.header.sensors == demo.sensors_of(clip)
            judged = [{v.channel for v in stroke.channels} for stroke in session.strokes()]
        assert all(Channel.POWER in channels for channels in judged)
    with SessionReader(folder / "sessions" / "saddle_high") as session:
        assert session.header.plan.power_w is None
        assert not session.header.sensors.is_any


def test_a_stroke_whose_power_does_not_come_any_more_does_not_count(
    results: dict[tuple[str, str], RideResult], folder: Path
) -> None:
    """drops_steady ends a moment after a stroke, before the meter's next packet.

    Its power is not known, so it does not count, though its position is good.
    """
    ride = next(ride for ride in RIDES if ride.clip == "drops_steady")
    result = results[ride.clip, ride.reference].result
    assert result is not None
    target = read_target("demo-rider/demo-bike/drops", folder)
    watcher = Watcher(
        demo.source(ride.clip, True, "full"),
        target,
        WatchPlan(sit_in_s=demo.SIT_IN_S),
        Settings(data_folder=folder),
    )
    alone = watcher.run(lambda *_: None, lambda _: None)
    assert (result.totals.n_counted, alone.totals.n_counted) == (13, 14)
    *strokes, last = [o for o in alone.outputs if isinstance(o, StrokeJudged)]
    assert len(strokes) == sum(isinstance(o, StrokeJudged) for o in result.outputs)
    recording = demo.sensor_recording(ride.clip)
    assert recording is not None
    assert strokes[-1].end_ns < read_packets(recording).events[-1].t_ns < last.end_ns


def test_everything_is_kept_and_replays(
    results: dict[tuple[str, str], RideResult], folder: Path
) -> None:
    watched = [one for one in results.values() if one.result is not None]
    assert len(watched) == len(RIDES) - 1
    for one in watched:
        assert one.picture is not None
        assert one.picture.read_bytes().startswith(b"\x89PNG")
    assert len({one.picture for one in watched}) == len(watched)
    names = {path.name for path in (folder / "sessions").iterdir()}
    assert names == {one.ride.name for one in watched}
    assert len(list_targets(folder)) == len(REFERENCES)
    for name in ("hoods_drift", "hoods_interruptions"):
        again = replay(folder / "sessions" / name, lambda _: None)
        assert again.same
        assert repr(again.outputs) == repr(outputs(results, name))


@pytest.mark.parametrize("error", [KeyboardInterrupt(), PosewatchError("Full.", "Make room.")])
def test_an_error_ends_the_other_clips_too(tmp_path: Path, error: BaseException) -> None:
    seen: dict[str, int] = {}

    def progress(clip: str, n_done: int, n_expected: int) -> None:
        seen[clip] = n_done
        if n_done == 20:
            raise error

    with pytest.raises(type(error)):
        run_demo(True, Settings(data_folder=tmp_path), progress)
    assert len(seen) <= demo.AT_A_TIME + 2
    assert max(seen.values()) < 300
    assert list_targets(tmp_path) == []


def test_missing_clips_are_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert (clips_folder() / "hoods_reference.mp4").is_file()
    monkeypatch.setattr(demo, "__file__", str(tmp_path / "posewatch" / "demo.py"))
    with pytest.raises(BadInput, match="The demo clips are not in"):
        clips_folder()
