"""What the watch of a trial holds: target, effort, sit-in and strokes."""

from __future__ import annotations

from dataclasses import replace

from posewatch.core.envelope import Target
from posewatch.core.watch_plan import WatchPlan
from posewatch.trials.conduct_state import ConductState
from posewatch.trials.kinds import kind_defaults
from posewatch.trials.plan import Design, Plan
from posewatch.trials.reset import RESET_S

#: A rehearsal's sit-ins are no longer than this.
REHEARSED_S = 3.0


def held_target(target: Target, design: Design) -> Target:
    """Return a target as a trial holds it: what the item itself may move is not required."""
    outcomes = kind_defaults(design.kind, design.saddle_mode).outcomes
    return replace(
        target,
        envelopes=tuple(
            replace(one, required=False, shape_required=False) if one.channel in outcomes else one
            for one in target.envelopes
        ),
    )


def watch_plan(plan: Plan, state: ConductState, in_the_saddle: bool = False) -> WatchPlan:
    """Return what the watch of the next trial is asked to hold.

    The first trial of a mounting has the long sit-in; each further one that after a change of
    hands, also where a trial is ridden again. The sit-in follows the reset, with which the watch
    begins. in_the_saddle: the rider sits from its beginning, as in a clip.
    """
    design = plan.design
    mounting = state.mounting
    fresh = mounting is None or not any(run.mounting == mounting.number for run in state.runs)
    sit_in_s = design.sit_in_s if fresh else design.hand_change_s
    return WatchPlan(
        power_w=design.power_w,
        cadence_rpm=design.cadence_rpm,
        goal_strokes=design.goal_strokes,
        first_sit_in_s=sit_in_s if in_the_saddle else RESET_S + sit_in_s,
    )


def rehearsed(held: WatchPlan) -> WatchPlan:
    """Return the same with short sit-ins."""
    return replace(
        held,
        first_sit_in_s=min(held.first_sit_in_s, REHEARSED_S),
        sit_in_s=min(held.sit_in_s, REHEARSED_S),
    )
