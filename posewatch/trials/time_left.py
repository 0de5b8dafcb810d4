"""How long the rest of a visit is expected to take."""

from __future__ import annotations

from dataclasses import replace

from posewatch.core.records import NS_PER_S
from posewatch.trials.check_list import open_lines
from posewatch.trials.conduct_state import (
    ConductState,
    StartNeed,
    planned_mounting,
    planned_visit,
)
from posewatch.trials.duration import ASSUMED_RATING_S, Share, expected_duration
from posewatch.trials.kinds import kind_defaults
from posewatch.trials.plan import Plan, PlannedMounting


def time_left_s(plan: Plan, state: ConductState, now_ns: int) -> float:
    """Return the expected seconds to the end of the visit under way, 0 = it is over.

    Made as ``duration.expected_duration`` is, without what is done. An item's rest since its last
    mounting is left out: how long that still lasts is known better, and said by what is missing.

    Raises:
        BadInput: no visit has begun.
    """
    visit = planned_visit(plan, state)
    if state.ended is not None:
        return 0.0
    here = planned_mounting(plan, state)
    later = [one for one in visit.mountings if here is not None and one.number > here.number]
    under_way = 0.0
    if here is not None and state.mounting is None:
        later.insert(0, here)
    elif here is not None:
        under_way = _under_way_s(plan, state, here)
    rest = replace(visit, mountings=tuple(later))
    seconds = expected_duration(replace(plan, visits=(rest,)))[0].seconds
    seconds[Share.WARM_UP] = _warm_up_s(plan, state, now_ns)
    return under_way + sum(seconds.values())


def _under_way_s(plan: Plan, state: ConductState, here: PlannedMounting) -> float:
    """Return what the mounting under way still takes."""
    design, mounting = plan.design, state.mounting
    assert mounting is not None
    trials = here.trials[state.next_trial :]
    if not trials:
        return ASSUMED_RATING_S
    left = replace(here, trials=trials)
    visit = replace(planned_visit(plan, state), mountings=(left,))
    seconds = expected_duration(replace(plan, visits=(visit,)))[0].seconds
    seconds[Share.WARM_UP] = 0.0
    lines = open_lines(plan, mounting)
    n_lines = len(kind_defaults(design.kind, design.saddle_mode).check_list)
    seconds[Share.WORK] *= len(lines) / n_lines
    run = state.run
    if any(one.mounting == mounting.number and one is not run for one in state.runs):
        seconds[Share.SIT_IN], seconds[Share.BRIDGE] = design.hand_change_s, 0.0
    total_s = sum(seconds.values())
    if run is not None:
        done = min(1.0, run.n_confirmed / design.goal_strokes)
        total_s -= done * seconds[Share.STROKES] / len(trials)
    return total_s


def _warm_up_s(plan: Plan, state: ConductState, now_ns: int) -> float:
    """Return what is left of the warm-up."""
    passed_over = any(one.need == StartNeed.WARM_UP for one in state.overridden)
    if passed_over or state.mounted or state.warm_up_ended_ns is not None:
        return 0.0
    begun_ns = state.warm_up_begun_ns
    ridden_s = 0.0 if begun_ns is None else (now_ns - begun_ns) / NS_PER_S
    return max(0.0, plan.design.warm_up_s - ridden_s)
