"""Events that end a hold at once: off the saddle, a hand off, the crank stopped, nobody there.

They are read from single pictures and moments, not from stroke means, since they must not wait
for a stroke to end, and a stroke may never end.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from posewatch.core.outputs import Reason
from posewatch.core.records import NS_PER_S

#: Off the saddle: the hip this far above, or this far before or behind, its place.
OFF_SADDLE_UP_MM = 60.0
OFF_SADDLE_ALONG_MM = 107.0
#: Hand off: the wrist this far from its place.
HAND_OFF_MM = 95.0
#: A condition must last this long to begin, and be gone this long to end.
DWELL_NS = int(0.3 * NS_PER_S)
NOT_SEEN_AFTER_NS = 1 * NS_PER_S
GONE_AFTER_NS = 5 * NS_PER_S
#: A condition that could not be told for this long begins its dwell anew.
UNTOLD_NS = int(0.2 * NS_PER_S)
#: Pedalling again from here on; a crank slower than STOPPED falls behind.
PEDALLING_RAD_S = 40.0 * 2 * math.pi / 60.0
STOPPED_RAD_S = 20.0 * 2 * math.pi / 60.0
BACKWARD_RAD_S = -10.0 * 2 * math.pi / 60.0
HALF_TURN_RAD = math.pi
#: The usual speed follows the crank with this time constant, so that a stop does not drag it down.
USUAL_SPEED_S = 1.0


@dataclass(frozen=True, slots=True)
class Dwell:
    """A condition that must last before it is believed.

    since_ns: when it last turned; told_ns: when it could last be told since.
    """

    active: bool = False
    since_ns: int | None = None
    told_ns: int = 0


@dataclass(frozen=True, slots=True)
class GrossState:
    """What goes on, and the memory to tell.

    seen_ns: when the rider was last seen, or the first moment. behind_rad: how far the crank has
    fallen behind the speed it had when it last pedalled.
    """

    off_saddle: Dwell = Dwell()
    hand_off: Dwell = Dwell()
    stopped: Reason | None = None
    not_seen: bool = False
    seen_ns: int | None = None
    t_ns: int = 0
    usual_rad_s: float = 0.0
    behind_rad: float = 0.0

    @property
    def under_way(self) -> bool:
        """Whether an event is going on."""
        return self.off_saddle.active or self.hand_off.active or self.not_seen or bool(self.stopped)


@dataclass(frozen=True, slots=True)
class Change:
    """An event began or ended at t_ns."""

    t_ns: int
    reason: Reason
    begins: bool


@dataclass(frozen=True, slots=True)
class Moment:
    """One picture's evidence.

    along_mm, up_mm: of the hip from its place; hand_mm: of the hand from its; NaN = not known, and
    nominal before a camera is calibrated. speed_rad_s: NaN where the crank is not known.
    """

    t_ns: int
    seen: bool
    along_mm: float
    up_mm: float
    hand_mm: float
    speed_rad_s: float


def step(state: GrossState, moment: Moment) -> tuple[GrossState, tuple[Change, ...]]:
    """Take in one picture's evidence; return what began or ended."""
    changes: list[Change] = []
    off_saddle, change = _dwell(
        state.off_saddle,
        moment.t_ns,
        None
        if math.isnan(moment.up_mm)
        else moment.up_mm > OFF_SADDLE_UP_MM or abs(moment.along_mm) > OFF_SADDLE_ALONG_MM,
        Reason.OUT_OF_SADDLE,
    )
    changes += change
    hand_off, change = _dwell(
        state.hand_off,
        moment.t_ns,
        None if math.isnan(moment.hand_mm) else moment.hand_mm > HAND_OFF_MM,
        Reason.HAND_OFF,
    )
    changes += change
    state, change = _crank(replace(state, off_saddle=off_saddle, hand_off=hand_off), moment)
    changes += change
    if state.seen_ns is None:
        state = replace(state, seen_ns=moment.t_ns)
    state, late = tick(replace(state, t_ns=moment.t_ns), moment.t_ns)
    changes += late
    if moment.seen:
        if state.not_seen and state.seen_ns is not None:
            changes.append(Change(moment.t_ns, Reason.NOT_SEEN, begins=False))
            if moment.t_ns - state.seen_ns > GONE_AFTER_NS and not state.off_saddle.active:
                # Gone for so long, the rider has left the saddle unseen, and sits anew.
                changes += [Change(moment.t_ns, Reason.OUT_OF_SADDLE, b) for b in (True, False)]
        state = replace(state, seen_ns=moment.t_ns, not_seen=False)
    return state, tuple(changes)


def tick(state: GrossState, t_ns: int) -> tuple[GrossState, tuple[Change, ...]]:
    """Let time pass: a rider unseen for over a second is not there.

    The moment told is the end of that second, whenever somebody looks.
    """
    if state.not_seen or state.seen_ns is None or t_ns - state.seen_ns <= NOT_SEEN_AFTER_NS:
        return state, ()
    change = Change(state.seen_ns + NOT_SEEN_AFTER_NS, Reason.NOT_SEEN, begins=True)
    return replace(state, not_seen=True), (change,)


def _dwell(
    dwell: Dwell, t_ns: int, condition: bool | None, reason: Reason
) -> tuple[Dwell, tuple[Change, ...]]:
    """Follow a condition; None = cannot be told, which changes nothing."""
    if condition is None:
        return dwell, ()
    if condition == dwell.active:
        return Dwell(dwell.active), ()
    lasting = dwell.since_ns is not None and t_ns - dwell.told_ns <= UNTOLD_NS
    since_ns = dwell.since_ns if lasting and dwell.since_ns is not None else t_ns
    if t_ns - since_ns < DWELL_NS:
        return Dwell(dwell.active, since_ns, t_ns), ()
    return Dwell(condition), (Change(t_ns, reason, begins=condition),)


def _crank(state: GrossState, moment: Moment) -> tuple[GrossState, tuple[Change, ...]]:
    speed = moment.speed_rad_s
    if math.isnan(speed):
        return state, ()
    if speed >= PEDALLING_RAD_S:
        ended = () if state.stopped is None else (Change(moment.t_ns, state.stopped, begins=False),)
        dt_s = (moment.t_ns - state.t_ns) / NS_PER_S
        share = 1.0 if state.usual_rad_s == 0.0 else min(1.0, dt_s / USUAL_SPEED_S)
        usual = state.usual_rad_s + share * (speed - state.usual_rad_s)
        return replace(state, usual_rad_s=usual, behind_rad=0.0, stopped=None), ended
    if state.stopped is not None or state.usual_rad_s == 0.0:
        return state, ()
    if speed < STOPPED_RAD_S:
        dt_s = (moment.t_ns - state.t_ns) / NS_PER_S
        state = replace(state, behind_rad=state.behind_rad + (state.usual_rad_s - speed) * dt_s)
    if state.behind_rad <= HALF_TURN_RAD:
        return state, ()
    reason = Reason.BACK_PEDALLED if speed < BACKWARD_RAD_S else Reason.COASTED
    return replace(state, stopped=reason), (Change(moment.t_ns, reason, begins=True),)
