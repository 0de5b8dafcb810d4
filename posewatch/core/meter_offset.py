"""The zero offset of a power meter: when to take it, what it told, and whether it has changed.

A meter's unloaded reading drifts with temperature. It is set to zero once the meter is warm, and
again before a later comparison; never between two mountings that are compared with each other,
since the meter would then differ between them. A pure state machine: the shell sends what it asks
for, and tells what came of it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from math import pi

from posewatch.core.records import SourceCondition, SourceState
from posewatch.core.timebase import to_ns, to_s

#: The cadence at which a torque is also given as a power.
AT_RPM = 90.0
HOW = "Let the rider take the feet off the pedals and hold the cranks still and upright."


class OffsetUnit(StrEnum):
    """What a raw offset counts: 1/32 N m, or N (by the feature bit 16 of 2A65)."""

    TORQUE = "1/32 N m"
    FORCE = "N"


@dataclass(frozen=True, slots=True)
class OffsetPlan:
    """When an offset is taken and what a change is.

    warm_up_s: of riding before the first. changed_nm, changed_n: from this much on, a difference
    between two offsets is warned of. 0.25 N m is 2.4 W at 90 rpm. answer_s: a meter may take so
    long to answer.
    """

    warm_up_s: float = 600.0
    changed_nm: float = 0.25
    changed_n: float = 2.0
    answer_s: float = 15.0


@dataclass(frozen=True, slots=True)
class OffsetAnswer:
    """What a meter answered. raw: its unloaded reading, None = not known. why: of a refusal."""

    done: bool
    raw: int | None = None
    why: str = ""


@dataclass(frozen=True, slots=True)
class RidingBegan:
    """The rider has begun to pedal: the warm-up runs."""


@dataclass(frozen=True, slots=True)
class ComparisonBegan:
    """A comparison is about to begin: its offset is to be taken before the first mounting."""


@dataclass(frozen=True, slots=True)
class PairBegan:
    """The first of two mountings that are compared is being ridden."""


@dataclass(frozen=True, slots=True)
class PairEnded:
    """Both mountings have been ridden."""


@dataclass(frozen=True, slots=True)
class ZeroAsked:
    """The operator wants the offset taken. insisted: although it was warned of."""

    insisted: bool = False


@dataclass(frozen=True, slots=True)
class ZeroAnswered:
    """The meter answered."""

    answer: OffsetAnswer


OffsetEvent = RidingBegan | ComparisonBegan | PairBegan | PairEnded | ZeroAsked | ZeroAnswered


@dataclass(frozen=True, slots=True)
class Zero:
    """An offset that was taken; raw: None = the meter does not tell it."""

    t_ns: int
    raw: int | None


@dataclass(frozen=True, slots=True)
class OffsetState:
    """What is known of one meter's offset.

    riding_ns: when the rider began. in_pair: between two mountings that are compared. due: an
    offset is to be taken. prompted: that was said. answer_by_ns: of the answer that is waited for,
    None = none is. zeros: all that were taken, oldest first.
    """

    name: str
    unit: OffsetUnit = OffsetUnit.TORQUE
    riding_ns: int | None = None
    in_pair: bool = False
    due: bool = True
    prompted: bool = False
    answer_by_ns: int | None = None
    zeros: tuple[Zero, ...] = ()


@dataclass(frozen=True, slots=True)
class Send:
    """The order to take the offset is to be sent now."""


@dataclass(frozen=True, slots=True)
class Prompt:
    """The operator is asked to have the offset taken now."""

    text: str


@dataclass(frozen=True, slots=True)
class Warn:
    """The operator is warned."""

    text: str


OffsetOutput = Send | Prompt | Warn | SourceState
Step = tuple[OffsetState, tuple[OffsetOutput, ...]]


def step(state: OffsetState, t_ns: int, event: OffsetEvent, plan: OffsetPlan) -> Step:
    """Take in what happened at t_ns.

    A SourceState among the outputs is the line for the log: its source is "zero offset of" the
    meter, its condition RUNNING, or LOST where no offset could be taken. The pipeline ignores it.
    """
    match event:
        case RidingBegan():
            return replace(state, riding_ns=state.riding_ns or t_ns), ()
        case ComparisonBegan():
            return tick(replace(state, due=True, prompted=False), t_ns, plan)
        case PairBegan():
            note = (Warn(_not_taken(state)),) if state.due else ()
            return replace(state, in_pair=True), note
        case PairEnded():
            return replace(state, in_pair=False), ()
        case ZeroAsked(insisted):
            return _zero_asked(state, t_ns, insisted, plan)
        case ZeroAnswered(answer):
            return _zero_answered(state, t_ns, answer, plan)


def tick(state: OffsetState, t_ns: int, plan: OffsetPlan) -> Step:
    """Let time pass: ask for the offset once the meter is warm; late answers are failures."""
    if state.answer_by_ns is not None:
        if t_ns < state.answer_by_ns:
            return state, ()
        late = OffsetAnswer(False, why=f"it did not answer within {plan.answer_s:g} s")
        return _zero_answered(state, t_ns, late, plan)
    if not state.due or state.prompted or state.in_pair or not is_warm(state, t_ns, plan):
        return state, ()
    text = f"{state.name} is warm: take its zero offset now. {HOW}"
    return replace(state, prompted=True), (Prompt(text),)


def is_warm(state: OffsetState, t_ns: int, plan: OffsetPlan) -> bool:
    """Tell whether the warm-up is over."""
    return state.riding_ns is not None and t_ns - state.riding_ns >= to_ns(plan.warm_up_s)


def offset_words(raw: int | None, unit: OffsetUnit) -> str:
    """Return an offset with its unit, as "-12.50 N m (raw -400)"."""
    if raw is None:
        return "not told by the meter"
    value = f"{raw / 32:.2f} N m" if unit is OffsetUnit.TORQUE else f"{raw} N"
    return f"{value} (raw {raw})"


def _not_taken(state: OffsetState) -> str:
    return (
        f"The zero offset of {state.name} was not taken before this pair of mountings. Leave it "
        "as it is until both are ridden."
    )


def _zero_asked(state: OffsetState, t_ns: int, insisted: bool, plan: OffsetPlan) -> Step:
    if state.answer_by_ns is not None:
        return state, (Warn(f"{state.name} is being asked already. Wait for its answer."),)
    if not insisted and state.in_pair:
        text = (
            f"Do not zero {state.name} now: between two mountings that are compared, a new offset "
            "changes the power by itself. Ride the second mounting first."
        )
        return state, (Warn(text),)
    outputs: tuple[OffsetOutput, ...] = (Send(),)
    if state.riding_ns is not None and not is_warm(state, t_ns, plan):
        left_min = (plan.warm_up_s - to_s(t_ns - state.riding_ns)) / 60
        text = (
            f"{state.name} is not warm yet ({left_min:.0f} min to go): its offset will drift. "
            "Take it again after the warm-up."
        )
        outputs = (Warn(text), *outputs)
    return replace(state, answer_by_ns=t_ns + to_ns(plan.answer_s)), outputs


def _zero_answered(state: OffsetState, t_ns: int, answer: OffsetAnswer, plan: OffsetPlan) -> Step:
    if state.answer_by_ns is None:
        return state, ()  # too late, or to somebody else's question
    state = replace(state, answer_by_ns=None)
    if not answer.done:
        text = f"The zero offset of {state.name} was not taken: {answer.why}. {HOW} Then try again."
        return state, (_line(state, t_ns, SourceCondition.LOST, text), Warn(text))
    before = state.zeros[-1] if state.zeros else None
    warm = is_warm(state, t_ns, plan)
    # One that was taken cold is not the one that is due.
    due = state.due and state.riding_ns is not None and not warm
    state = replace(
        state,
        due=due,
        prompted=state.prompted and not due,
        zeros=(*state.zeros, Zero(t_ns, answer.raw)),
    )
    text = f"Zero offset of {state.name}: {offset_words(answer.raw, state.unit)}."
    outputs: list[OffsetOutput] = []
    change = _change_words(state, before, answer.raw, plan)
    if change:
        outputs.append(Warn(change))
        text = f"{text} {change}"
    if state.in_pair:
        inside = "It was taken between two mountings that are compared: do not compare their power."
        outputs.append(Warn(inside))
        text = f"{text} {inside}"
    return state, (_line(state, t_ns, SourceCondition.RUNNING, text), *outputs)


def _change_words(
    state: OffsetState, before: Zero | None, raw: int | None, plan: OffsetPlan
) -> str:
    """Say that the offset has changed; empty = it has not, or cannot be told."""
    if before is None or before.raw is None or raw is None:
        return ""
    change = raw - before.raw
    if state.unit is OffsetUnit.FORCE:
        if abs(change) < plan.changed_n:
            return ""
        return f"It changed by {change:+d} N since the last time: compare no power across it."
    change_nm = change / 32
    if abs(change_nm) < plan.changed_nm:
        return ""
    # P = torque x angular velocity.
    watts = abs(change_nm) * AT_RPM * 2 * pi / 60
    return (
        f"It changed by {change_nm:+.2f} N m since the last time, which is {watts:.0f} W at "
        f"{AT_RPM:.0f} rpm: compare no power across it."
    )


def _line(state: OffsetState, t_ns: int, condition: SourceCondition, text: str) -> SourceState:
    return SourceState(t_ns, f"zero offset of {state.name}", condition, text)
