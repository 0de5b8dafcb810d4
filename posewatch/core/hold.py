"""The hold: when the rider is in position, and which strokes count.

Strokes come in judged. Five good ones in a row steady the hold; from then on good strokes count,
short departures are forgiven without counting, longer ones and gross events lose it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from posewatch.core.cues import correction
from posewatch.core.outputs import (
    BriefDrift,
    ChannelValue,
    HoldGained,
    HoldLost,
    Phase,
    Reason,
)
from posewatch.core.records import EFFORT_CHANNELS, NS_PER_S, Channel, Verdict

STEADY_STROKES = 5
STEADY_STROKES_AFTER_DRIFT = 3
DRIFT_REMEMBERED_NS = 10 * NS_PER_S
#: Strokes out in a row that are forgiven: by position, and by effort or both together.
FORGIVEN_BY_POSITION = 2
FORGIVEN_IN_ALL = 4
#: More bad strokes than this among the last so many lose the hold.
BAD_AMONG_LAST = 5
LAST_STROKES = 20
UNKNOWN_SKIPPED_BELOW_NS = 1 * NS_PER_S
#: After these the body settles anew: a sit-in comes before steadying.
NEEDS_SIT_IN = frozenset({Reason.OUT_OF_SADDLE, Reason.COASTED, Reason.BACK_PEDALLED})


@dataclass(frozen=True, slots=True)
class Stroke:
    """What the hold needs to know of one judged stroke."""

    start_ns: int
    end_ns: int
    verdict: Verdict
    channels: tuple[ChannelValue, ...]


@dataclass(frozen=True, slots=True)
class HoldState:
    """Where the hold stands.

    steady: good strokes in a row while steadying. needed: how many make the hold.
    drift_lost_ns: when it was last lost by drift, None if by anything else or never.
    waiting: gross events that still go on. sit_in_until_ns: no steadying before this.
    departed: strokes out or unknown since the last good one. last_bad: of the last twenty strokes
    in position, newest last, which were bad. unknown_last: the last one was a skipped unknown.
    """

    phase: Phase = Phase.STEADYING
    steady: int = 0
    drift_lost_ns: int | None = None
    waiting: frozenset[Reason] = frozenset()
    sit_in_until_ns: int = 0
    departed: tuple[Stroke, ...] = ()
    last_bad: tuple[bool, ...] = ()
    unknown_last: bool = False


HoldOutput = HoldGained | HoldLost | BriefDrift


def step(state: HoldState, stroke: Stroke) -> tuple[HoldState, bool, tuple[HoldOutput, ...]]:
    """Take in one stroke; return the new state, whether it counts, and what changed."""
    if state.phase is Phase.IN_POSITION:
        return _in_position(state, stroke)
    return _steadying(state, stroke)


def _steadying(state: HoldState, stroke: Stroke) -> tuple[HoldState, bool, tuple[HoldOutput, ...]]:
    if state.waiting or stroke.start_ns < state.sit_in_until_ns:
        return replace(state, steady=0), False, ()
    if stroke.verdict is not Verdict.GOOD:
        return replace(state, phase=Phase.STEADYING, steady=0), False, ()
    steady = state.steady + 1
    lost_ns = state.drift_lost_ns
    recent = lost_ns is not None and stroke.end_ns - lost_ns <= DRIFT_REMEMBERED_NS
    if steady < (STEADY_STROKES_AFTER_DRIFT if recent else STEADY_STROKES):
        return replace(state, phase=Phase.STEADYING, steady=steady), False, ()
    return HoldState(Phase.IN_POSITION), False, (HoldGained(stroke.end_ns),)


def _in_position(
    state: HoldState, stroke: Stroke
) -> tuple[HoldState, bool, tuple[HoldOutput, ...]]:
    bad = stroke.verdict is not Verdict.GOOD
    last_bad = (*state.last_bad, bad)[-LAST_STROKES:]
    state = replace(state, last_bad=last_bad)
    if stroke.verdict is Verdict.UNKNOWN:
        long = stroke.end_ns - stroke.start_ns >= UNKNOWN_SKIPPED_BELOW_NS
        if long or state.unknown_last:
            state, outputs = lose(state, stroke.end_ns, Reason.UNKNOWN)
            return state, False, outputs
    departed = (*state.departed, stroke) if bad else state.departed
    reason = _why_lost(departed) if bad else None
    if reason is None and sum(last_bad) > BAD_AMONG_LAST:
        reason = Reason.TOO_OFTEN
    if reason is not None:
        channel, direction = worst(departed)
        state, outputs = lose(state, stroke.end_ns, reason, channel, direction)
        return state, False, outputs
    if bad:
        unknown = stroke.verdict is Verdict.UNKNOWN
        return replace(state, departed=departed, unknown_last=unknown), False, ()
    return replace(state, departed=(), unknown_last=False), True, _forgiven(departed)


def _forgiven(departed: tuple[Stroke, ...]) -> tuple[BriefDrift, ...]:
    """Return the brief drift that a good stroke ended; unknown ones alone are none."""
    out = [stroke for stroke in departed if stroke.verdict is Verdict.OUT]
    if not out:
        return ()
    channel, direction = worst(departed)
    return (BriefDrift(out[0].start_ns, out[-1].end_ns, len(out), channel, direction),)


def _out_by_position(stroke: Stroke) -> bool:
    """Tell whether a stroke was out by position; an unknown one may have been."""
    return stroke.verdict is Verdict.UNKNOWN or any(
        v.required and v.verdict is Verdict.OUT and v.channel not in EFFORT_CHANNELS
        for v in stroke.channels
    )


def _why_lost(departed: tuple[Stroke, ...]) -> Reason | None:
    if sum(map(_out_by_position, departed)) > FORGIVEN_BY_POSITION:
        return Reason.DRIFT
    if len(departed) > FORGIVEN_IN_ALL:
        return Reason.EFFORT
    return None


def worst(departed: tuple[Stroke, ...]) -> tuple[Channel | None, str]:
    """Return the channel that was out most often over some strokes, and the way back."""
    out = [
        v for stroke in departed for v in stroke.channels if v.required and v.verdict is Verdict.OUT
    ]
    if not out:
        return None, ""
    # Among equals the first listed leads: the torso before what follows it.
    channels = [v.channel for v in out]
    channel = max(dict.fromkeys(channels), key=channels.count)
    last = next(v for v in reversed(out) if v.channel is channel)
    return channel, correction(last)


def lose(
    state: HoldState,
    t_ns: int,
    reason: Reason,
    channel: Channel | None = None,
    direction: str = "",
) -> tuple[HoldState, tuple[HoldOutput, ...]]:
    """Lose the hold, or start steadying anew where there was none."""
    drift_ns = t_ns if reason in (Reason.DRIFT, Reason.EFFORT, Reason.TOO_OFTEN) else None
    fresh = HoldState(
        Phase.STEADYING,
        drift_lost_ns=drift_ns,
        waiting=state.waiting,
        sit_in_until_ns=state.sit_in_until_ns,
    )
    if state.phase is not Phase.IN_POSITION:
        return replace(fresh, phase=state.phase, drift_lost_ns=state.drift_lost_ns), ()
    return fresh, (HoldLost(t_ns, reason, channel, direction),)


def begin_event(
    state: HoldState, t_ns: int, reason: Reason
) -> tuple[HoldState, tuple[HoldOutput, ...]]:
    """A gross event has begun: the hold is lost at once."""
    state, outputs = lose(state, t_ns, reason)
    return replace(
        state,
        waiting=state.waiting | {reason},
        drift_lost_ns=None,
        phase=Phase.SIT_IN if reason in NEEDS_SIT_IN else state.phase,
    ), outputs


def end_event(state: HoldState, t_ns: int, reason: Reason, sit_in_ns: int) -> HoldState:
    """A gross event is over; where the body must settle anew, the sit-in starts now."""
    pause_ns = sit_in_ns if reason in NEEDS_SIT_IN else 0
    # Strokes from before the end, still waiting for their effort, steady nothing.
    until_ns = max(state.sit_in_until_ns, t_ns + pause_ns)
    return replace(state, waiting=state.waiting - {reason}, sit_in_until_ns=until_ns)
