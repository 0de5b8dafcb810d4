"""The shipped clips, each run twice: through the whole chain, and on its exact joints."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

import numpy as np

from posewatch.bench.scores import Series
from posewatch.bench.truth import Truth, exact_tracking, read_truth
from posewatch.core import channels, judge, pipeline
from posewatch.core.capture import Subject, capture, envelope_of
from posewatch.core.envelope import Target
from posewatch.core.intervals import Tally
from posewatch.core.judge import JudgeState, Task
from posewatch.core.measuring_chain import MeasuringChain
from posewatch.core.outputs import Output
from posewatch.core.plane import PlaneMap
from posewatch.core.records import NS_PER_S, Frame, Side
from posewatch.core.tracking import Tracked
from posewatch.core.watch_plan import WatchPlan
from posewatch.demo import REFERENCES, SIT_IN_S, Reference, clips_folder, source
from posewatch.opening import open_frames

SUBJECT = Subject("bench", "bench", "bench")
PLAN = WatchPlan(sit_in_s=SIT_IN_S)


@dataclass(frozen=True, slots=True, eq=False)
class Recording:
    """The landmarks of one clip and the chain that made them."""

    frames: tuple[Frame, ...]
    chain: MeasuringChain
    plane: PlaneMap


@dataclass(frozen=True, slots=True, eq=False)
class Yardstick:
    """A reference's target as captured, and the same limits around its exact centres."""

    reference: Reference
    target: Target
    exact: Target
    side: Side


@dataclass(frozen=True, slots=True, eq=False)
class Run:
    """What one run of a clip gave: per picture what was tracked, and the outputs."""

    tracked: tuple[Tracked, ...]
    outputs: tuple[Output, ...]
    tally: Tally

    def series(self, place_scale: float) -> Series:
        """Return times, crank angles and the judged columns, NaN where not believed."""
        nothing = np.full(channels.N_JUDGED, np.nan)
        return Series(
            np.array([t.t_ns for t in self.tracked], np.int64),
            np.array([t.crank.angle_rad for t in self.tracked]),
            np.array(
                [
                    channels.measured_values(t, place_scale)[: channels.N_JUDGED]
                    if t.crank.known
                    else nothing
                    for t in self.tracked
                ]
            ),
        )


def record(
    clip: str,
    model: str | None,
    progress: Callable[[str, int, int], None],
    dots: bool = False,
) -> Recording:
    """Read a clip's landmarks or dots: the recorded ones, or those that a model finds now."""
    with open_frames(source(clip, model is None, model or "", dots=dots)) as opened:
        frames: list[Frame] = []
        for item in opened.seen():
            if isinstance(item, Frame):
                frames.append(item)
            progress(clip, len(frames), opened.n_expected)
        assert opened.plane is not None
        return Recording(tuple(frames), opened.chain, opened.plane)


def truth_of(clip: str, side: Side) -> Truth:
    """Read a shipped clip's truth."""
    return read_truth(clips_folder() / f"{clip}.truth.csv", side)


def yardstick(reference: Reference, recording: Recording) -> Yardstick:
    """Capture a reference's target, and centre the same limits on the exact joints."""
    end_ns = np.inf if reference.end_s is None else reference.end_s * NS_PER_S
    frames = [frame for frame in recording.frames if frame.t_ns < end_ns]
    target = capture([frames], recording.chain, recording.plane, SUBJECT, reference.clip)
    truth = truth_of(reference.clip, target.side)
    exact = [t for t in exact_tracking(truth, recording.plane) if t.t_ns < end_ns]
    centred = envelope_of(
        [exact], target.crank, target.leg, recording.chain, SUBJECT, reference.clip
    )
    envelopes = tuple(
        replace(mine, centre=other.centre)
        for mine, other in zip(target.envelopes, centred.envelopes, strict=True)
    )
    return Yardstick(reference, target, replace(centred, envelopes=envelopes), target.side)


def run_measured(frames: Iterable[Frame], target: Target, plane: PlaneMap) -> Run:
    """Watch frames against a target."""
    task = Task(target, PLAN)
    state = pipeline.start(task, target.chain, plane)
    tracked: list[Tracked] = []
    outputs: list[Output] = []
    for frame in frames:
        state, said = pipeline.step(task, state, frame)
        outputs += said
        assert state.last is not None
        tracked.append(state.last)
    state, said = pipeline.finish(state)
    return Run(tuple(tracked), (*outputs, *said), state.judge.tally)


def run_exact(tracked: Iterable[Tracked], target: Target) -> Run:
    """Hold exact joints against a target: what a watch without any error would have said."""
    task, state = Task(target, PLAN), JudgeState()
    centres = channels.centre_table(target)
    kept = tuple(tracked)
    outputs: list[Output] = []
    for one in kept:
        seen_now = pipeline.observation(one, target.place_scale, centres)
        state, said = judge.observe(task, state, seen_now)
        outputs += said
    state, said = judge.finish(state)
    return Run(kept, (*outputs, *said), state.tally)


def references() -> dict[str, Reference]:
    """Return the references by clip: the demo's, and the clips of other rates."""
    rates = (Reference(clip, "hoods", end_s=28.0) for clip in ("camera_25_fps", "camera_60_fps"))
    return {reference.clip: reference for reference in (*REFERENCES, *rates)}
