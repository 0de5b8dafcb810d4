"""How a watch stands after one input, in the few words that screens need.

Screens read this and nothing else of the pipeline's state; they decide nothing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from posewatch.core.cues import LiveChannel
from posewatch.core.doubts import Doubt
from posewatch.core.hold import DRIFT_REMEMBERED_NS, STEADY_STROKES, STEADY_STROKES_AFTER_DRIFT
from posewatch.core.judge import Task
from posewatch.core.outputs import Phase, Reason
from posewatch.core.pipeline import PipelineState
from posewatch.core.records import NS_PER_S, Channel
from posewatch.core.timebase import to_s


@dataclass(frozen=True, slots=True)
class Standing:
    """How a watch stands.

    waiting: gross events that go on (paused, out of the saddle, camera ...), in the order of
    ``Reason``. sit_in_left_s: of the sit-in, 0 = none. steady, needed: good strokes in a row of
    those that make the hold; steady is 0 once it stands.
    cue, direction: the rider's correction, None and "" = none. live: each channel's live value.
    counted, counted_s: confirmed strokes and seconds; pending: strokes of the run under way that
    count once it is long enough. goal: strokes at which the trial is reached.
    cadence_rpm: of the last stroke, NaN = none. doubt: the first joint not believed, and why.
    """

    t_ns: int
    phase: Phase
    waiting: tuple[Reason, ...]
    sit_in_left_s: float
    steady: int
    needed: int
    cue: Channel | None
    direction: str
    live: tuple[LiveChannel, ...]
    counted: int
    counted_s: float
    pending: int
    goal: int
    cadence_rpm: float
    doubt: tuple[str, Doubt] | None

    @property
    def reached(self) -> bool:
        """Whether the trial has its strokes."""
        return self.counted >= self.goal


def standing(task: Task, state: PipelineState, t_ns: int) -> Standing:
    """Return how a watch stands at the moment of its last input."""
    judge, hold = state.judge, state.judge.hold
    in_position = hold.phase is Phase.IN_POSITION
    lost_ns = hold.drift_lost_ns
    recent = lost_ns is not None and t_ns - lost_ns <= DRIFT_REMEMBERED_NS
    tally = judge.tally
    run = tally.run
    took_ns = judge.durations_ns[-1] if judge.durations_ns else 0
    return Standing(
        t_ns,
        hold.phase,
        tuple(reason for reason in Reason if reason in hold.waiting),
        0.0 if in_position else max(0.0, to_s(hold.sit_in_until_ns - t_ns)),
        0 if in_position else hold.steady,
        STEADY_STROKES_AFTER_DRIFT if recent else STEADY_STROKES,
        judge.cue.channel,
        judge.cue.direction,
        judge.live,
        tally.n_strokes,
        to_s(tally.total_ns),
        0 if run is None or run.confirmed else run.n_strokes,
        task.plan.goal_strokes,
        60.0 * NS_PER_S / took_ns if took_ns else math.nan,
        None if state.last is None else state.last.body.doubt(),
    )
