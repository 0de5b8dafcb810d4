"""What a power meter that falls silent costs on the steady clip, from packets to counted strokes.

The expected strokes come of a plain calculation that shares nothing with the program: turns of the
crank from the clip's truth, times of packets from the lines of the recording. What a stall touches,
from the last packet before it to the first after it, is not known; two such turns lose the hold,
and five good turns make it.
"""

from __future__ import annotations

import csv
import json
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

import pytest

from posewatch.core import pipeline
from posewatch.core.envelope import Target
from posewatch.core.judge import Task
from posewatch.core.measuring_chain import MeasuringChain
from posewatch.core.outputs import CadenceDiffers, HoldGained, HoldLost, Output, Reason
from posewatch.core.outputs import StrokeJudged as Judged
from posewatch.core.plane import PlaneMap
from posewatch.core.records import Channel, Effort, Frame, Input, Verdict
from posewatch.core.sensor_use import SensorUse
from posewatch.core.watch_plan import WatchPlan
from posewatch.demo import (
    REFERENCES,
    SIT_IN_S,
    capture_reference,
    clips_folder,
    sensor_recording,
    source,
)
from posewatch.opening import open_frames
from posewatch.sensors.effort_feed import EffortFeed
from posewatch.sensors.replayed import ReplayedSensors
from posewatch.store.packet_file import read_packets
from posewatch.store.settings import Settings

CLIP = "hoods_steady"
#: The clip's cadence wanders from 79 to 100 rpm, more than any plan's 4 rpm: power alone is held.
PLAN = WatchPlan(power_w=200.0, sit_in_s=SIT_IN_S)
METER = SensorUse(power="Demo crank", cadence="Demo crank")
Span = tuple[float, float]
NO_GAP: Span = (0.0, 0.0)


# --- the plain calculation -----------------------------------------------------------------------


def turns() -> list[Span]:
    """Return the crank's whole turns; in the first, the program still looks for the pedal."""
    with (clips_folder() / f"{CLIP}.truth.csv").open(encoding="utf-8", newline="") as file:
        rows = [(float(row["time_s"]), float(row["crank_deg"])) for row in csv.DictReader(file)]
    tops = []
    for (before_s, before), (after_s, after) in pairwise(rows):
        if after < before:
            tops.append(before_s + (after_s - before_s) * (360 - before) / (360 - before + after))
    return list(pairwise(tops))[1:]


def packet_times(gap: Span) -> list[float]:
    """Return when measurements came, s, but for those in the gap."""
    path = sensor_recording(CLIP)
    assert path is not None
    lines = [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]
    times = [line["t_ns"] / 1e9 for line in lines if line.get("characteristic") == "2A63"]
    return [t for t in times if not gap[0] < t < gap[1]]


def untouched(every: list[Span], stall: Span) -> list[Span]:
    """Return the turns that count with a stall of two turns or more; empty = without any."""
    touched = [n for n, (begin, end) in enumerate(every) if begin < stall[1] and end > stall[0]]
    steadying = set(range(5))
    if touched:
        assert len(touched) >= 2
        steadying |= set(range(touched[-1] + 1, touched[-1] + 6))
    return [turn for n, turn in enumerate(every) if n not in steadying | set(touched)]


# --- the program ---------------------------------------------------------------------------------


@dataclass(frozen=True)
class Ride:
    """The clip's landmarks, and the target that they are held to."""

    target: Target
    frames: tuple[Frame, ...]
    chain: MeasuringChain
    plane: PlaneMap | None

    def watch(self, plan: WatchPlan, feed: EffortFeed | None) -> list[Output]:
        """Watch it, what comes of sensors before the first picture that is later."""
        task = Task(self.target, plan)
        state = pipeline.start(task, self.chain, self.plane)
        outputs: list[Output] = []
        for frame in self.frames:
            heard: list[Input] = [] if feed is None else feed.taken(frame.t_ns)
            for new in (*heard, frame):
                state, said = pipeline.step(task, state, new)
                outputs += said
        return [*outputs, *pipeline.finish(state)[1]]


@pytest.fixture(scope="module")
def ride(tmp_path_factory: pytest.TempPathFactory) -> Ride:
    settings = Settings(data_folder=tmp_path_factory.mktemp("stalled"))
    target = capture_reference(REFERENCES[0], True, settings, lambda *_: None)
    with open_frames(source(CLIP, True, settings.model)) as opened:
        frames = tuple(one for one in opened.seen() if isinstance(one, Frame))
        return Ride(target, frames, opened.chain, opened.plane)


@pytest.fixture(scope="module")
def undisturbed(ride: Ride) -> list[Output]:
    return ride.watch(PLAN, feed())


def feed(gap: Span = NO_GAP) -> EffortFeed:
    """Return the clip's sensors without what they sent in the gap."""
    path = sensor_recording(CLIP)
    assert path is not None
    recording = read_packets(path)
    names = {one.name: one.platform_id for one in recording.sensors}
    events = [one for one in recording.events if not gap[0] < one.t_ns / 1e9 < gap[1]]
    return EffortFeed(ReplayedSensors(events), METER, lambda: names)


def counted(outputs: Iterable[Output]) -> list[Span]:
    strokes = [one for one in outputs if isinstance(one, Judged) and one.counted]
    return [(one.start_ns / 1e9, one.end_ns / 1e9) for one in strokes]


def holds(outputs: Iterable[Output]) -> list[HoldGained | HoldLost]:
    return [one for one in outputs if isinstance(one, HoldGained | HoldLost)]


def assert_same(found: list[Span], expected: list[Span]) -> None:
    """The camera sees a top within a few hundredths of a second, a turn takes 0.6 s or more."""
    assert len(found) == len(expected)
    for stroke, turn in zip(found, expected, strict=True):
        assert stroke == pytest.approx(turn, abs=0.03)


# --- what it costs -------------------------------------------------------------------------------


def test_undisturbed_as_many_strokes_count_as_without_sensors(
    ride: Ride, undisturbed: list[Output]
) -> None:
    without = ride.watch(WatchPlan(sit_in_s=SIT_IN_S), None)
    assert counted(undisturbed) == counted(without)
    assert_same(counted(undisturbed), untouched(turns(), NO_GAP))
    assert len(turns()) == 89
    assert len(counted(undisturbed)) == 84
    off_w = [
        value.deviation
        for one in undisturbed
        if isinstance(one, Judged)
        for value in one.channels
        if value.channel is Channel.POWER
    ]
    assert len(off_w) == 89
    assert max(map(abs, off_w)) <= 0.07 * 200.0
    # The meter's turns are the ones that the camera sees.
    assert not any(isinstance(one, CadenceDiffers) for one in undisturbed)


def test_every_packet_gives_an_effort() -> None:
    taken = feed().taken(60 * 10**9)
    efforts = [one for one in taken if isinstance(one, Effort)]
    assert [one.t_ns / 1e9 for one in efforts] == pytest.approx(packet_times(NO_GAP), abs=1e-9)
    assert len(efforts) == 240
    assert feed((10.0, 20.0)).taken(15 * 10**9)[-1].t_ns < 10 * 10**9


# The second stall begins so late in a turn that only its last packet shows that it is not whole.
@pytest.mark.parametrize(("begin_s", "n_lost"), [(28.0, 13), (28.45, 14)])
def test_five_seconds_cost_the_turns_they_touch_and_five_more(
    ride: Ride, undisturbed: list[Output], begin_s: float, n_lost: int
) -> None:
    gap = (begin_s, begin_s + 5.0)
    stall = max(pairwise(packet_times(gap)), key=lambda pair: pair[1] - pair[0])
    assert 5.0 <= stall[1] - stall[0] <= 5.6
    tops = [begin for begin, _ in turns()]
    assert min(abs(top - edge) for top in tops for edge in stall) > 0.03
    outputs = ride.watch(PLAN, feed(gap))
    expected = untouched(turns(), stall)
    assert_same(counted(outputs), expected)
    assert len(counted(undisturbed)) - len(expected) == n_lost
    assert set(counted(outputs)) < set(counted(undisturbed))
    _, lost, again = holds(outputs)
    assert isinstance(lost, HoldLost)
    assert lost.reason is Reason.UNKNOWN
    assert isinstance(again, HoldGained)
    unknown = [o for o in outputs if isinstance(o, Judged) and o.verdict is Verdict.UNKNOWN]
    assert {one.reason for one in unknown} == {Reason.NO_EFFORT}
    assert len(unknown) == n_lost - 5


@pytest.mark.parametrize("begin_s", [28.0, 28.45])
def test_a_second_costs_nothing(ride: Ride, undisturbed: list[Output], begin_s: float) -> None:
    gap = (begin_s, begin_s + 1.0)
    assert len(packet_times(NO_GAP)) - len(packet_times(gap)) == 4
    assert 1.0 <= max(b - a for a, b in pairwise(packet_times(gap))) < 1.5
    outputs = ride.watch(PLAN, feed(gap))
    assert counted(outputs) == counted(undisturbed)
    assert [type(one) for one in holds(outputs)] == [HoldGained]
