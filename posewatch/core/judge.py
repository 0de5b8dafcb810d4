"""From observations to verdicts, hold, cue and valid intervals.

An observation is one moment's crank angle and deviations from the target; where it comes from (a
camera's landmarks, or exact joint centres) makes no difference here.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from posewatch.core import (
    channels,
    creep,
    cues,
    effort,
    gross_events,
    hold,
    intervals,
    stroke_effort,
    strokes,
)
from posewatch.core.creep import CreepState
from posewatch.core.cues import CueState, LiveChannel
from posewatch.core.effort import EffortState
from posewatch.core.envelope import Target
from posewatch.core.gross_events import Change, GrossState, Moment
from posewatch.core.hold import HoldState
from posewatch.core.intervals import Tally
from posewatch.core.outputs import ChannelValue, Output, Phase, Reason, StrokeJudged
from posewatch.core.records import (
    Channel,
    Effort,
    FloatArray,
    Verdict,
)
from posewatch.core.stroke_effort import EndedStroke
from posewatch.core.strokes import Revolution, Sample, StrokeState
from posewatch.core.timebase import to_ns
from posewatch.core.watch_plan import WatchPlan


@dataclass(frozen=True, slots=True)
class Task:
    """What is held: a target's envelopes and a plan."""

    target: Target
    plan: WatchPlan


@dataclass(frozen=True, slots=True, eq=False)
class Observation:
    """One moment.

    seen: the rider is believed to be there. angle_rad: crank angle counting on over turns, None
    where not known; speed_rad_s likewise. deviations: (9,) float64 as in channels, NaN = unknown.
    hip_off: the hip from its place, along and up, where a single picture may tell more than can be
    judged; None = as in deviations.
    """

    t_ns: int
    seen: bool
    angle_rad: float | None
    speed_rad_s: float
    deviations: FloatArray
    hip_off: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class JudgeState:
    """Everything remembered from moment to moment.

    out: channels that were out and have not been seen back inside since. waiting: strokes whose
    effort has not come yet. durations_ns: of the last strokes since a break. last_end_ns: end of
    the last stroke that was judged or waits. live: the live values after the last observation.
    """

    strokes: StrokeState = StrokeState()
    gross: GrossState = GrossState()
    hold: HoldState = HoldState()
    cue: CueState = CueState()
    effort: EffortState = EffortState()
    tally: Tally = Tally()
    creep: CreepState = CreepState()
    out: frozenset[Channel] = frozenset()
    waiting: tuple[EndedStroke, ...] = ()
    durations_ns: tuple[int, ...] = ()
    last_end_ns: int = 0
    live: tuple[LiveChannel, ...] = ()
    effort_values: tuple[ChannelValue, ...] = ()


Step = tuple[JudgeState, tuple[Output, ...]]


def start(plan: WatchPlan) -> JudgeState:
    """Return the state before the first observation."""
    if plan.first_sit_in_s <= 0.0:
        return JudgeState()
    until_ns = to_ns(plan.first_sit_in_s)
    return JudgeState(hold=HoldState(Phase.SIT_IN, sit_in_until_ns=until_ns))


def observe(task: Task, state: JudgeState, seen_now: Observation) -> Step:
    """Take in one moment."""
    t_ns = seen_now.t_ns
    gross, changes = gross_events.step(
        state.gross,
        _moment(task, seen_now),
    )
    state, outputs = _apply_changes(task, replace(state, gross=gross), changes)
    if seen_now.angle_rad is None:
        state = _forget_stroke(state)
    else:
        sample = Sample(t_ns, seen_now.angle_rad, seen_now.deviations)
        stroke_state, ended = strokes.step(state.strokes, sample)
        state = replace(state, strokes=stroke_state)
        for revolution in ended:
            state = _let_wait(state, revolution)
    state, judged = _judge_waiting(task, state, t_ns)
    state, overdue = _lose_overdue(state, t_ns)
    state, cue = _cue(task, state, t_ns)
    return state, (*outputs, *judged, *overdue, *cue)


def _moment(task: Task, seen_now: Observation) -> Moment:
    nominal = task.target.place_unit.nominal
    along, up, hand = (
        channels.channel_size(channel, seen_now.deviations)
        for channel in (Channel.SITTING_PLACE, Channel.PELVIS_HEIGHT, Channel.HAND_PLACE)
    )
    if seen_now.hip_off is not None:
        along, up = seen_now.hip_off
    return Moment(
        seen_now.t_ns,
        seen_now.seen,
        nominal * along,
        nominal * up,
        nominal * hand,
        seen_now.speed_rad_s,
    )


def take_effort(task: Task, state: JudgeState, reading: Effort) -> Step:
    """Take in one sensor reading."""
    state = replace(state, effort=effort.add(state.effort, reading))
    return _judge_waiting(task, state, reading.t_ns)


def tick(task: Task, state: JudgeState, t_ns: int) -> Step:
    """Let time pass without a picture."""
    gross, changes = gross_events.tick(state.gross, t_ns)
    state, outputs = _apply_changes(task, replace(state, gross=gross), changes)
    state, judged = _judge_waiting(task, state, t_ns)
    return state, (*outputs, *judged)


def interrupt(task: Task, state: JudgeState, change: Change) -> Step:
    """Take in an outside event (the camera moved, the operator paused) as it begins or ends."""
    return _apply_changes(task, state, (change,))


def finish(state: JudgeState) -> Step:
    """End the run under way; strokes that still wait for their effort do not count."""
    return _end_run(replace(state, waiting=()))


def _apply_changes(task: Task, state: JudgeState, changes: tuple[Change, ...]) -> Step:
    outputs: list[Output] = []
    for change in changes:
        # A stroke that contains the beginning or the end is no whole one.
        state = _forget_stroke(state)
        if change.begins:
            held, lost = hold.begin_event(state.hold, change.t_ns, change.reason)
            cue, silenced = cues.silence(state.cue, change.t_ns)
            state, ended = _end_run(replace(state, hold=held, cue=cue))
            outputs += [*lost, *ended, *silenced]
        else:
            sit_in_ns = to_ns(task.plan.sit_in_s)
            held = hold.end_event(state.hold, change.t_ns, change.reason, sit_in_ns)
            state = replace(state, hold=held)
    return state, tuple(outputs)


def _forget_stroke(state: JudgeState) -> JudgeState:
    """Drop the stroke under way and what was last known: nothing may be read across a break."""
    return replace(state, strokes=StrokeState(), durations_ns=(), effort_values=(), live=())


def _end_run(state: JudgeState) -> Step:
    tally, run = intervals.end_run(state.tally)
    return replace(state, tally=tally), () if run is None else (run,)


def _let_wait(state: JudgeState, revolution: Revolution) -> JudgeState:
    """Queue an ended stroke, with the durations that its effort is averaged over."""
    durations = (*state.durations_ns, revolution.end_ns - revolution.start_ns)
    recent = durations[-effort.WINDOW_STROKES :]
    return replace(
        state,
        waiting=(*state.waiting, EndedStroke(revolution, recent)),
        durations_ns=recent,
        last_end_ns=revolution.end_ns,
    )


def _judge_waiting(task: Task, state: JudgeState, now_ns: int) -> Step:
    outputs: list[Output] = []
    while state.waiting:
        ended = state.waiting[0]
        if not stroke_effort.is_settled(task.plan, state.effort, ended.revolution.end_ns, now_ns):
            break
        state = replace(state, waiting=state.waiting[1:])
        state, judged = _judge_one(task, state, ended)
        outputs += judged
    return state, tuple(outputs)


def _judge_one(task: Task, state: JudgeState, ended: EndedStroke) -> Step:
    revolution = ended.revolution
    values = [
        channels.judge_stroke(envelope, revolution, envelope.channel in state.out)
        for envelope in task.target.envelopes
    ]
    efforts = stroke_effort.judge(task.plan, state.effort, ended, state.out)
    every = (*values, *efforts)
    verdict, reason = channels.stroke_verdict(every)
    stroke = hold.Stroke(revolution.start_ns, revolution.end_ns, verdict, every)
    held, counted, changed = hold.step(state.hold, stroke)
    out = frozenset(
        v.channel
        for v in every
        if v.verdict is Verdict.OUT or (v.verdict is Verdict.UNKNOWN and v.channel in state.out)
    )
    crept, warnings = (
        creep.step(state.creep, revolution.end_ns, every, task.target.place_unit)
        if verdict is Verdict.GOOD
        else (state.creep, ())
    )
    state = replace(state, hold=held, out=out, effort_values=efforts, creep=crept)
    outputs: list[Output] = [
        StrokeJudged(
            revolution.start_ns, revolution.end_ns, verdict, counted, held.phase, every, reason
        ),
        *changed,
        *warnings,
    ]
    if counted:
        tally, run = intervals.add_stroke(state.tally, revolution.start_ns, revolution.end_ns)
        outputs += [run] if run is not None else []
        return replace(state, tally=tally), tuple(outputs)
    if held.phase is not Phase.IN_POSITION:
        state, runs = _end_run(state)
        outputs += runs
    return state, tuple(outputs)


def _lose_overdue(state: JudgeState, t_ns: int) -> Step:
    """Lose a hold whose stroke under way can no longer become a known one."""
    overdue = t_ns - state.last_end_ns > strokes.SLOWEST_REVOLUTION_NS
    if state.hold.phase is not Phase.IN_POSITION or not overdue or state.waiting:
        return state, ()
    if state.gross.seen_ns != t_ns:
        return state, ()  # nobody is seen: that has a reason of its own, and comes at its time
    overdue_ns = state.last_end_ns + strokes.SLOWEST_REVOLUTION_NS
    held, lost = hold.lose(state.hold, overdue_ns, Reason.TOO_SLOW)
    state, ended = _end_run(replace(state, hold=held))
    return state, (*lost, *ended)


def _cue(task: Task, state: JudgeState, t_ns: int) -> Step:
    found = []
    # Whoever is off the saddle, or has a hand at the bottle, needs no correction of his position.
    revolution = None if state.gross.under_way else strokes.live(state.strokes)
    if revolution is not None:
        for envelope in task.target.envelopes:
            value = channels.judge_stroke(envelope, revolution, envelope.channel in state.out)
            found.append(LiveChannel(value, envelope.tol, envelope.inner))
    for value in state.effort_values:
        tol = task.plan.effort_tolerance(value.channel)
        found.append(LiveChannel(value, tol, tol * (1 - channels.EFFORT_RETURN)))
    live = tuple(found)
    asked = (now for now in live if task.plan.asks_for(now.value.channel))
    wanted = {now.value.channel: now for now in asked if now.value.required}
    cue, changed = cues.step(state.cue, t_ns, wanted)
    return replace(state, cue=cue, live=live), () if changed is None else (changed,)
