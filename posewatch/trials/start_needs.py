"""What is missing before a trial may begin, by name, with what to do about it.

All but mounting and target can be passed over with a reason (``acts.Overridden``), which is kept.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from posewatch.core.records import NS_PER_S
from posewatch.trials.check_list import open_lines
from posewatch.trials.conduct_state import (
    ConductState,
    StartNeed,
    planned_mounting,
    planned_trial,
)
from posewatch.trials.plan import Plan


@dataclass(frozen=True, slots=True)
class Missing:
    """What is missing. text: what and how much; advice: what to do. left_s: of a wait, else 0."""

    need: StartNeed
    text: str
    advice: str
    left_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Facts:
    """What the plan and the record cannot know.

    sealed: a code list was sealed and published. hands: hand positions that have a target.
    """

    sealed: bool
    hands: Collection[str]


def missing(plan: Plan, state: ConductState, now_ns: int, facts: Facts) -> tuple[Missing, ...]:
    """Return what the next trial still needs, the most basic first; empty = it may begin."""
    passed_over = {one.need for one in state.overridden}
    found = [
        *_codes(plan, facts),
        *_warm_up(plan, state, now_ns),
        *_asked(plan, state),
        *_mounting(plan, state, now_ns),
        *_target(plan, state, facts),
    ]
    return tuple(one for one in found if one.need not in passed_over)


def _codes(plan: Plan, facts: Facts) -> list[Missing]:
    if facts.sealed or not plan.design.concealment.item_concealed:
        return []
    text = "the items' codes are not sealed"
    return [
        Missing(StartNeed.CODES, text, "Seal a code list for this plan before the first trial.")
    ]


def _warm_up(plan: Plan, state: ConductState, now_ns: int) -> list[Missing]:
    wanted_s = plan.design.warm_up_s
    begun_ns = state.warm_up_begun_ns
    if wanted_s <= 0:
        return []
    if begun_ns is None:
        text = f"the warm-up of {_minutes(wanted_s)} has not begun"
        return [Missing(StartNeed.WARM_UP, text, "Begin it, on the rider's own gear.", wanted_s)]
    until_ns = now_ns if state.warm_up_ended_ns is None else state.warm_up_ended_ns
    left_s = wanted_s - (until_ns - begun_ns) / NS_PER_S
    if left_s > 0:
        text = f"the warm-up lacks {_minutes(left_s)}"
        return [Missing(StartNeed.WARM_UP, text, "Ride on, on the rider's own gear.", left_s)]
    if state.warm_up_ended_ns is None:
        text = "the warm-up has not ended"
        return [Missing(StartNeed.WARM_UP, text, "End it; then mount the first item.")]
    return []


def _asked(plan: Plan, state: ConductState) -> list[Missing]:
    """Ratings follow each trial, the guess each mounting, before anything else is felt."""
    found = []
    rated = {place for place, _ in state.ratings}
    if state.runs and state.run is None and len(state.runs) - 1 not in rated:
        text = "the last trial is not rated"
        found.append(Missing(StartNeed.RATINGS, text, "Ask, or say that it was not asked."))
    last = state.mounted[-1] if state.mounted else None
    concealed = plan.design.concealment.item_concealed
    ridden = last is not None and any(run.mounting == last.number for run in state.runs)
    if concealed and ridden and last is not None and last.ended_ns is not None and not last.guess:
        text = f"no guess was asked after mounting {last.number}"
        found.append(Missing(StartNeed.GUESS, text, "Ask which item the rider takes it for."))
    return found


def _mounting(plan: Plan, state: ConductState, now_ns: int) -> list[Missing]:
    planned = planned_mounting(plan, state)
    if planned is None:
        text = "all planned mountings are done"
        return [Missing(StartNeed.MOUNTING, text, "End the visit.")]
    found = []
    ridden = {run.mounting for run in state.runs}
    rested_ns = [
        one.ended_ns
        for one in state.mounted
        if one.slot == planned.slot and one.ended_ns is not None and one.number in ridden
    ]
    # It rests until the rider sits on it again: while it is mounted, too.
    left_s = plan.design.item_rest_s - (now_ns - max(rested_ns, default=now_ns)) / NS_PER_S
    if rested_ns and left_s > 0:
        text = f"the item was ridden lately and rests for {_minutes(left_s)} more"
        found.append(Missing(StartNeed.REST, text, "Wait: foam comes back slowly.", left_s))
    if state.mounting is None:
        text = f"mounting {planned.number} has not begun"
        return [*found, Missing(StartNeed.MOUNTING, text, "Put the item on and begin it.")]
    if planned_trial(plan, state) is None:
        text = "all trials of this mounting are done"
        return [*found, Missing(StartNeed.MOUNTING, text, "End the mounting.")]
    lines = open_lines(plan, state.mounting)
    if lines:
        text = f"the check list has {len(lines)} to go, next: {lines[0].text}"
        advice = "Tick them, or leave them out with a reason."
        found.append(Missing(StartNeed.CHECK_LIST, text, advice))
    return found


def _target(plan: Plan, state: ConductState, facts: Facts) -> list[Missing]:
    trial = planned_trial(plan, state)
    if trial is None or trial.hands in facts.hands:
        return []
    name = f"{plan.design.rider}/{plan.design.bike}/{trial.hands}"
    return [Missing(StartNeed.TARGET, f"there is no target {name}", "Capture one first.")]


def _minutes(seconds: float) -> str:
    """Return a length of time as people say it."""
    whole = round(seconds)
    return f"{whole} s" if whole < 120 else f"{whole // 60} min {whole % 60:02d} s"
