"""The whole of what decides, one input at a time: ``step(task, state, input)``.

Feeding the same inputs in the same order gives the same outputs, to the bit on one machine.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from posewatch.core import (
    cadence_check,
    channels,
    judge,
    same_rider,
    smoothness_means,
    steadiness,
    tracking,
)
from posewatch.core.cadence_check import CadenceCheckState
from posewatch.core.gross_events import Change
from posewatch.core.judge import JudgeState, Observation, Task
from posewatch.core.measuring_chain import MeasuringChain
from posewatch.core.outputs import Output, Phase, Reason, StrokeJudged
from posewatch.core.plane import PlaneMap
from posewatch.core.records import (
    CAMERA,
    VIEW,
    Command,
    CommandKind,
    DrivenTurn,
    Effort,
    FloatArray,
    Frame,
    Input,
    SourceCondition,
    SourceState,
    Tick,
)
from posewatch.core.same_rider import SameRiderState
from posewatch.core.sensor_records import Packet
from posewatch.core.smoothness_means import MeansState
from posewatch.core.steadiness import SteadinessState
from posewatch.core.tracking import Tracked, TrackState
from posewatch.core.trainer_records import HOLD_OF


@dataclass(frozen=True, slots=True, eq=False)
class PipelineState:
    """Tracking and judging, whether it is the target's rider, and what the last picture said.

    centres: the centre curves side by side. trainer_holds: a trainer holds the power now.
    """

    track: TrackState
    centres: FloatArray
    judge: JudgeState = JudgeState()
    rider: SameRiderState = SameRiderState()
    last: Tracked | None = None
    cadence: CadenceCheckState = CadenceCheckState()
    steadiness: SteadinessState = SteadinessState()
    smoothness: MeansState = MeansState()
    trainer_holds: bool = False


def start(task: Task, chain: MeasuringChain, plane: PlaneMap | None) -> PipelineState:
    """Return the state before the first input; chain and plane are those at hand."""
    track = tracking.with_target(tracking.start(chain, plane), task.target)
    return PipelineState(track, channels.centre_table(task.target), judge=judge.start(task.plan))


def step(task: Task, state: PipelineState, new: Input) -> tuple[PipelineState, tuple[Output, ...]]:
    """Take in one input; a sensor's raw packet is for the log alone, its Effort decides."""
    if isinstance(new, Packet):
        return state, ()
    if isinstance(new, DrivenTurn):
        in_position = state.judge.hold.phase is Phase.IN_POSITION
        smooth, means = smoothness_means.take_turn(state.smoothness, new, in_position)
        return replace(state, smoothness=smooth), means
    if isinstance(new, SourceState) and new.source.startswith(HOLD_OF):
        return replace(state, trainer_holds=new.condition is SourceCondition.RUNNING), ()
    if task.plan.trainer_holds_power and not state.trainer_holds:
        # It was let go, or does not hold yet: the power is the rider's to correct.
        task = replace(task, plan=replace(task.plan, trainer_holds_power=False))
    state, outputs = _judged(task, state, new)
    strokes = [o for o in outputs if isinstance(o, StrokeJudged)]
    return _checked(state, strokes, outputs) if strokes else (state, outputs)


def _checked(
    state: PipelineState, strokes: Sequence[StrokeJudged], outputs: tuple[Output, ...]
) -> tuple[PipelineState, tuple[Output, ...]]:
    """Hold what the camera saw throughout against the sensors, and against itself."""
    cadence, steady = state.cadence, state.steadiness
    found: list[Output] = []
    for stroke in strokes:
        if stroke.reason not in (None, Reason.NO_EFFORT):
            continue
        cadence, differs = cadence_check.take_stroke(cadence, stroke.start_ns, stroke.end_ns)
        steady, flags = steadiness.take_stroke(steady, stroke.start_ns, stroke.end_ns)
        found += [*differs, *flags]
    return replace(state, cadence=cadence, steadiness=steady), (*outputs, *found)


def _judged(
    task: Task, state: PipelineState, new: Input
) -> tuple[PipelineState, tuple[Output, ...]]:
    if isinstance(new, Frame):
        track, tracked = tracking.step(state.track, new)
        seen_now = observation(tracked, task.target.place_scale, state.centres)
        judged, outputs = judge.observe(task, state.judge, seen_now)
        rider, asked = same_rider.step(state.rider, task.target.segments, tracked.body)
        state = replace(state, track=track, judge=judged, rider=rider, last=tracked)
        return state, (*outputs, *asked)
    if isinstance(new, Effort):
        judged, outputs = judge.take_effort(task, state.judge, new)
        state = replace(
            state,
            cadence=cadence_check.take_effort(state.cadence, new),
            steadiness=steadiness.take_effort(state.steadiness, new),
        )
    elif isinstance(new, SourceState | Command):
        change = _change(new)
        if change is None:
            return state, ()
        judged, outputs = judge.interrupt(task, state.judge, change)
    else:
        assert isinstance(new, Tick)
        judged, outputs = judge.tick(task, state.judge, new.t_ns)
    return replace(state, judge=judged), outputs


def finish(state: PipelineState) -> tuple[PipelineState, tuple[Output, ...]]:
    """End the run under way, and what is told of the whole."""
    judged, outputs = judge.finish(state.judge)
    smooth, means = smoothness_means.finish(state.smoothness)
    return replace(state, judge=judged, smoothness=smooth), (*outputs, *means)


def observation(tracked: Tracked, place_scale: float, centres: FloatArray) -> Observation:
    """Return a picture's deviations from the centre curves at its crank angle."""
    reading, body = tracked.crank, tracked.body
    if not reading.known:
        nothing = np.full(channels.N_COLUMNS, np.nan)
        return Observation(tracked.t_ns, body.seen, None, math.nan, nothing)
    curve = channels.centre_at(centres, reading.angle_rad)
    away = channels.measured_values(tracked, place_scale) - curve
    carried = tracked.leg is not None and tracked.leg.carried
    along, up = (body.hip * place_scale - curve[list(channels.HIP_COLUMNS)]).tolist()
    return Observation(
        tracked.t_ns,
        body.seen or carried,
        reading.angle_rad,
        reading.speed_rad_s,
        away,
        None if carried else (along, up),
    )


def _change(new: SourceState | Command) -> Change | None:
    if isinstance(new, SourceState):
        reason = {CAMERA: Reason.CAMERA, VIEW: Reason.VIEW_MOVED}.get(new.source)
        if reason is None or new.condition is SourceCondition.ENDED:
            return None
        return Change(new.t_ns, reason, new.condition is not SourceCondition.RUNNING)
    if new.kind not in (CommandKind.PAUSE, CommandKind.RESUME):
        return None
    return Change(new.t_ns, Reason.PAUSED, new.kind is CommandKind.PAUSE)
