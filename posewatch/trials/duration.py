"""How long a visit of a plan will take, and what that is made of.

Sit-ins, rests and the warm-up are the plan's. The rest is assumed (the constants here, practice of
the trade) until somebody has timed it in their own studio.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from posewatch.core.hold import STEADY_STROKES
from posewatch.core.resolution import STROKES as BRIDGE_STROKES
from posewatch.trials.kinds import kind_defaults
from posewatch.trials.plan import Design, Plan, PlannedMounting, PlannedVisit

#: Where the plan holds no cadence.
ASSUMED_CADENCE_RPM = 90.0
#: So many of a steady rider's strokes count.
ASSUMED_YIELD = 0.85
#: Coast, stand 8 s, sit, hands on, and pedal up to the planned effort.
ASSUMED_RESET_S = 25.0
#: Comfort by region, and the guess where one is asked for.
ASSUMED_RATING_S = 90.0


class Share(StrEnum):
    """What a visit's time goes into."""

    WARM_UP = "warm-up on own gear"
    WORK = "mounting and its check list"
    ITEM_REST = "waiting for an item to rest"
    SIT_IN = "sit-in after mounting"
    BRIDGE = "bridge strokes"
    RESET = "reset before each trial"
    HAND_CHANGE = "sit-in after a change of hands"
    STROKES = "steadying and counted strokes"
    RATING = "ratings"


@dataclass(frozen=True, slots=True)
class VisitDuration:
    """The expected seconds of one visit, by what they go into."""

    visit: int
    seconds: dict[Share, float]

    @property
    def total_s(self) -> float:
        """The whole visit."""
        return sum(self.seconds.values())


def expected_duration(plan: Plan) -> tuple[VisitDuration, ...]:
    """Return what each visit is expected to take."""
    return tuple(_visit(plan.design, visit) for visit in plan.visits)


def _visit(design: Design, visit: PlannedVisit) -> VisitDuration:
    seconds = dict.fromkeys(Share, 0.0)
    seconds[Share.WARM_UP] = design.warm_up_s
    work_s = kind_defaults(design.kind, design.saddle_mode).work_s
    unloaded_at_s: dict[int, float] = {}
    for mounting in visit.mountings:
        # An item rests while it is mounted, too: it is loaded again at its sit-in.
        ready_s = sum(seconds.values()) + work_s
        rested_s = unloaded_at_s.get(mounting.slot, -design.item_rest_s) + design.item_rest_s
        seconds[Share.WORK] += work_s
        seconds[Share.ITEM_REST] += max(0.0, rested_s - ready_s)
        for share, taken_s in _ridden(design, mounting).items():
            seconds[share] += taken_s
        unloaded_at_s[mounting.slot] = sum(seconds.values())
        seconds[Share.RATING] += ASSUMED_RATING_S
    return VisitDuration(visit.number, seconds)


def _ridden(design: Design, mounting: PlannedMounting) -> dict[Share, float]:
    """Return the seconds of one mounting during which the rider is on the item."""
    stroke_s = 60.0 / (design.cadence_rpm or ASSUMED_CADENCE_RPM)
    n_trials = len(mounting.trials)
    strokes = STEADY_STROKES + design.goal_strokes / ASSUMED_YIELD
    return {
        Share.SIT_IN: design.sit_in_s,
        Share.BRIDGE: BRIDGE_STROKES * stroke_s,
        Share.RESET: n_trials * ASSUMED_RESET_S,
        Share.HAND_CHANGE: (n_trials - 1) * design.hand_change_s,
        Share.STROKES: n_trials * strokes * stroke_s,
    }
