"""A trainer that holds the power: what to send it, when to wait, and when to let go.

A pure state machine of the Fitness Machine control point. It is off until somebody asks for a
power. Control is requested and granted before a power is set. A raise of more than
``ControlLimits.raise_w``, at once or in small steps, waits for a ``Confirmed``; a lower power is
sent at once. On any fault, and when the cadence sinks too low, the power is lowered, the trainer
stopped, and control given up; where the trainer does not confirm that, its link is ended, which
ends the permission to control it. After that it is off: nothing is ever set again by itself.
"""

from __future__ import annotations

from dataclasses import replace

from posewatch.core import trainer_cadence
from posewatch.core.timebase import to_ns
from posewatch.core.trainer_records import (
    SWITCH_OFF,
    Answered,
    Command,
    ControlTaken,
    Order,
    Result,
    StoppedThere,
)
from posewatch.core.trainer_state import (
    RELEASING,
    Asked,
    Confirmed,
    ControlEvent,
    ControlLimits,
    ControlState,
    Lost,
    Ranged,
    Released,
    Stage,
    Turned,
    Unsent,
)

Step = tuple[ControlState, tuple[Command, ...]]

OFF = ControlState()


def step(state: ControlState, t_ns: int, event: ControlEvent, limits: ControlLimits) -> Step:
    """Take in what happened at t_ns; return what is to be sent, in order."""
    match event:
        case Asked(watts, cadence_rpm):
            cadence = replace(state.cadence, planned_rpm=cadence_rpm)
            return _asked(replace(state, cadence=cadence), t_ns, watts, limits)
        case Confirmed(watts):
            return _confirmed(state, t_ns, watts, limits)
        case Released(hurried):
            return _released(state, t_ns, hurried, limits)
        case Turned(rpm):
            cadence = trainer_cadence.heard(state.cadence, t_ns, rpm, limits.cadence)
            return tick(replace(state, cadence=cadence), t_ns, limits)
        case Ranged(power):
            return replace(state, range=power), ()
        case Answered(order, result):
            return _answered(state, t_ns, order, result, limits)
        case Unsent(order, why):
            return _unsent(state, t_ns, order, why, limits)
        case ControlTaken():
            if state.stage is Stage.OFF:
                return state, ()
            text = "The trainer took its control back: it is no longer held from here."
            return _off(state, text, fault=state.stage not in RELEASING), ()
        case StoppedThere():
            # Its own stop, sent while it is let go, is told by the trainer too.
            if state.stage is Stage.OFF or state.stage in RELEASING:
                return state, ()
            return _let_go(state, t_ns, "The trainer was stopped at its own controls.", limits)
        case Lost():
            if state.stage is Stage.OFF:
                return replace(state, unconfirmed_w=None, range=None), ()
            text = (
                "The link to the trainer was lost while it was held. It is not held when it comes "
                f"back: ask again. {SWITCH_OFF}"
            )
            return replace(_off(state, text, fault=True), range=None), ()


def tick(state: ControlState, t_ns: int, limits: ControlLimits) -> Step:
    """Let time pass up to t_ns.

    Late answers and a cadence that stays too low are faults; late confirmations are dropped.
    """
    if state.unconfirmed_w is not None and t_ns >= state.confirm_by_ns:
        text = f"The raise to {state.unconfirmed_w} W was not confirmed in time and is dropped."
        state = replace(state, unconfirmed_w=None, text=text)
    why = trainer_cadence.why_let_go(state.cadence, t_ns, limits.cadence)
    if state.is_in_force and why:
        return _let_go(state, t_ns, why, limits)
    if state.due_ns is None or t_ns < state.due_ns:
        return state, ()
    if state.stage in RELEASING:
        return _release_on(state, t_ns, confirmed=False, limits=limits)
    doing = "the request for control"
    if state.stage is Stage.SETTING:
        doing = f"the order to hold {state.sent_w} W"
    return _let_go(state, t_ns, f"The trainer did not answer {doing} in time.", limits)


def next_ns(state: ControlState, limits: ControlLimits) -> int | None:
    """Return when time alone changes something, None = never."""
    times = [
        state.due_ns,
        None if state.unconfirmed_w is None else state.confirm_by_ns,
        trainer_cadence.next_ns(state.cadence, limits.cadence) if state.is_in_force else None,
    ]
    return min((one for one in times if one is not None), default=None)


def bounds(state: ControlState, limits: ControlLimits) -> tuple[int, int]:
    """Return the lowest and highest power that may be asked for, in W."""
    if state.range is None:
        return limits.lowest_w, limits.highest_w
    lowest, highest = state.range.lowest_w, state.range.highest_w
    return max(limits.lowest_w, lowest), min(limits.highest_w, highest)


def _asked(state: ControlState, t_ns: int, watts: int, limits: ControlLimits) -> Step:
    lowest, highest = bounds(state, limits)
    if state.stage in RELEASING:
        text = "The trainer is being let go. Ask for a power again when that is done."
        return replace(state, text=text), ()
    if not lowest <= watts <= highest:
        text = f"{watts} W cannot be held: give {lowest} to {highest} W. Nothing was changed."
        return replace(state, text=text, unconfirmed_w=None), ()
    why = _why_not_raise(state, t_ns, watts, limits)
    if why:
        return replace(state, text=why, unconfirmed_w=None), ()
    now_w = _now_w(state)
    lower = _lower_lately(state, t_ns, limits)
    base = min([now_w, *(w for _, w in lower)])
    if watts - base > limits.raise_w:
        lately = f" within {limits.adds_up_s:.0f} s" if base < now_w else ""
        text = (
            f"A raise from {base} to {watts} W{lately} waits to be confirmed: tell the rider, and "
            "see that the cranks turn."
        )
        by_ns = t_ns + to_ns(limits.confirm_s)
        return replace(state, unconfirmed_w=watts, confirm_by_ns=by_ns, text=text), ()
    if watts > now_w:
        lower = (*lower, (t_ns, now_w))
    return _go(replace(state, unconfirmed_w=None, lower=lower), t_ns, watts, limits)


def _now_w(state: ControlState) -> int:
    """Return the lowest power that may be in force, in W."""
    if state.wanted_w is None:
        return 0
    return state.wanted_w if state.held_w is None else min(state.held_w, state.wanted_w)


def _lower_lately(
    state: ControlState, t_ns: int, limits: ControlLimits
) -> tuple[tuple[int, int], ...]:
    """Return the powers that a raise is counted from besides: small ones soon add up."""
    return tuple(one for one in state.lower if t_ns - one[0] < to_ns(limits.adds_up_s))


def _why_not_raise(state: ControlState, t_ns: int, watts: int, limits: ControlLimits) -> str:
    if watts <= _now_w(state):
        return ""
    why = trainer_cadence.why_not_raise(state.cadence, t_ns, limits.cadence)
    return why and f"{why} Nothing was changed."


def _confirmed(state: ControlState, t_ns: int, watts: int, limits: ControlLimits) -> Step:
    state, commands = tick(state, t_ns, limits)
    if state.unconfirmed_w != watts or state.stage in RELEASING:
        text = f"No raise to {watts} W waits to be confirmed. Ask for it again. Nothing was sent."
        return replace(state, text=text), commands
    why = _why_not_raise(state, t_ns, watts, limits)
    if why:
        return replace(state, text=why, unconfirmed_w=None), commands
    return _go(replace(state, unconfirmed_w=None, lower=()), t_ns, watts, limits)


def _go(state: ControlState, t_ns: int, watts: int, limits: ControlLimits) -> Step:
    """Bring about a power that may be sent."""
    state = replace(state, wanted_w=watts, fault=False)
    if state.stage is Stage.OFF:
        due_ns = t_ns + to_ns(limits.answer_s)
        text = "The trainer is asked for control."
        state = replace(state, stage=Stage.REQUESTING, due_ns=due_ns, hurried=False, text=text)
        return state, (Command(Order.REQUEST_CONTROL),)
    if state.stage is Stage.HOLDING:
        return _set(state, t_ns, limits)
    return state, ()  # sent once the answer that is waited for has come


def _set(state: ControlState, t_ns: int, limits: ControlLimits) -> Step:
    assert state.wanted_w is not None
    due_ns, watts = t_ns + to_ns(limits.answer_s), state.wanted_w
    text = f"The trainer is told to hold {watts} W."
    state = replace(state, stage=Stage.SETTING, sent_w=watts, due_ns=due_ns, text=text)
    return state, (Command(Order.SET_POWER, watts),)


def _answered(
    state: ControlState, t_ns: int, order: Order, result: Result, limits: ControlLimits
) -> Step:
    if order is not _waited_for(state.stage):
        return state, ()  # late, or meant for somebody else
    good = result is Result.SUCCESS
    if state.stage in RELEASING:
        return _release_on(state, t_ns, confirmed=good, limits=limits)
    if not good and state.stage is Stage.REQUESTING:
        text = f"The trainer did not give control: {result}. It is not held."
        return _off(state, text, fault=True), ()
    if not good:
        why = f"The trainer did not take {state.sent_w} W: {result}."
        return _let_go(state, t_ns, why, limits)
    if state.stage is Stage.REQUESTING or state.wanted_w != state.sent_w:
        state = replace(state, held_w=state.sent_w)
        why = trainer_cadence.why_not_raise(state.cadence, t_ns, limits.cadence)
        if why and (state.wanted_w or 0) > (state.held_w or 0):
            return _let_go(state, t_ns, why, limits)
        return _set(state, t_ns, limits)
    text = f"The trainer holds {state.sent_w} W."
    if state.cadence.rpm is None:
        text += " No sensor tells the cadence: let go by hand if it sinks."
    if state.unconfirmed_w is not None:
        text += f" The raise to {state.unconfirmed_w} W still waits to be confirmed."
    state = replace(state, stage=Stage.HOLDING, held_w=state.sent_w, due_ns=None, text=text)
    return state, ()


def _unsent(state: ControlState, t_ns: int, order: Order, why: str, limits: ControlLimits) -> Step:
    if order is not _waited_for(state.stage):
        return state, ()
    if state.stage in RELEASING:
        return _release_on(state, t_ns, confirmed=False, limits=limits)
    return _let_go(state, t_ns, f"The trainer could not be told to {order}: {why}.", limits)


def _waited_for(stage: Stage) -> Order | None:
    return {
        Stage.REQUESTING: Order.REQUEST_CONTROL,
        Stage.SETTING: Order.SET_POWER,
        Stage.LOWERING: Order.SET_POWER,
        Stage.STOPPING: Order.STOP,
        Stage.GIVING_UP: Order.RESET,
    }.get(stage)


def _released(state: ControlState, t_ns: int, hurried: bool, limits: ControlLimits) -> Step:
    if state.stage is Stage.OFF:
        return replace(state, unconfirmed_w=None), ()
    if state.stage in RELEASING:
        if not hurried or state.due_ns is None:
            return state, ()
        due_ns = min(state.due_ns, t_ns + to_ns(limits.hurry_s))
        return replace(state, hurried=True, due_ns=due_ns), ()
    return _let_go(replace(state, hurried=hurried), t_ns, "", limits)


def _let_go(state: ControlState, t_ns: int, why: str, limits: ControlLimits) -> Step:
    """Begin to let go; why: the fault, empty = it was asked for."""
    text = f"{why} It is let go.".strip() if why else "The trainer is let go."
    state = replace(state, fault=bool(why), text=text, unconfirmed_w=None, wanted_w=None)
    state = replace(state, due_ns=_release_due_ns(state, t_ns, limits))
    if state.sent_w is None:
        # Nothing was set, so nothing is to be lowered; control may have been granted unheard.
        return replace(state, stage=Stage.GIVING_UP), (Command(Order.RESET),)
    in_force = [limits.safe_w, state.sent_w, *([] if state.held_w is None else [state.held_w])]
    lowest = 0 if state.range is None else state.range.lowest_w
    return replace(state, stage=Stage.LOWERING), (
        Command(Order.SET_POWER, max(min(in_force), lowest)),
    )


def _release_on(state: ControlState, t_ns: int, confirmed: bool, limits: ControlLimits) -> Step:
    """Go on letting go, whether or not the step before was confirmed."""
    due_ns = _release_due_ns(state, t_ns, limits)
    if state.stage is Stage.LOWERING:
        return replace(state, stage=Stage.STOPPING, due_ns=due_ns), (Command(Order.STOP),)
    if state.stage is Stage.STOPPING:
        return replace(state, stage=Stage.GIVING_UP, due_ns=due_ns), (Command(Order.RESET),)
    why = state.text.removesuffix(" It is let go.") + " " if state.fault else ""
    if confirmed:
        return _off(state, f"{why}The trainer is let go.", state.fault), ()
    text = f"{why}The trainer did not confirm that it is let go, so its link is ended. {SWITCH_OFF}"
    return _off(state, text, fault=True), (Command(Order.END_LINK),)


def _release_due_ns(state: ControlState, t_ns: int, limits: ControlLimits) -> int:
    return t_ns + to_ns(limits.hurry_s if state.hurried else limits.release_s)


def _off(state: ControlState, text: str, fault: bool) -> ControlState:
    return ControlState(range=state.range, cadence=state.cadence, fault=fault, text=text)
