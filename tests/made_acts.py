"""Acts of visits for tests: those of a short visit in their order, and any that could be tried."""

from __future__ import annotations

from dataclasses import replace
from random import Random
from typing import Any

from made_plans import made_design

from posewatch.core.outputs import Phase
from posewatch.core.timebase import to_ns
from posewatch.store.visit_header import VisitHeader
from posewatch.trials import acts
from posewatch.trials.acts import Act
from posewatch.trials.check_list import check_list
from posewatch.trials.conduct import step
from posewatch.trials.conduct_state import ConductState, StartNeed
from posewatch.trials.kinds import Entry
from posewatch.trials.plan import Plan, make_plan
from posewatch.trials.words import RITUAL, RITUAL_S, ConcealmentLevel, RitualMoment

GOAL = 10


def made_plan(**changes: Any) -> Plan:
    """Two concealed shorts, two mountings each, on hoods and drops; nothing is waited for."""
    short = {
        "mountings": 2,
        "concealment": ConcealmentLevel.ITEM_COVERED,
        "familiarisation": False,
        "goal_strokes": GOAL,
        "warm_up_s": 0.0,
        "item_rest_s": 0.0,
    }
    return make_plan(made_design(**(short | changes)))


HEADER = VisitHeader(
    replace(made_plan(), created="2026-03-01T10:11:12+00:00"),
    "5a" * 32,
    ("K4", "R7"),
    "6b" * 32,
    "consent v1 given by r17",
    "2027-01-01",
    rehearsal=False,
    fast=True,
    versions={"posewatch": "0.1.0", "python": "3.11"},
    created="2026-03-01T10:11:12+00:00",
)

#: Any wall time.
WALL_NS = 1_700_000_000_123_456_789
EVERY_ACT: tuple[Act, ...] = (
    acts.VisitBegun(0, 2, "Ännä"),
    acts.Reopened(1, "in a trial"),
    acts.WarmUp(2, True),
    acts.MountingBegun(3),
    acts.LineDone(4, "room_temperature", "21.5"),
    acts.LineSkipped(5, "mat_zero", 'no "mat"\nhere'),
    acts.RitualDone(6, RitualMoment.STAND),
    acts.Overridden(7, "warm-up", "rode here"),
    acts.TrialBegun(8, "trials/m01-t1-hoods-1"),
    acts.HoldSeen(9, Phase.IN_POSITION, 12),
    acts.Waiting(10, "paused: towel"),
    acts.WaitOver(11),
    acts.TrialClosed(12, 60, 40_123_456_789, "cut off"),
    acts.TrialRepeated(13, "doorbell"),
    acts.TrialSkipped(14, "cramp"),
    acts.MountingSkipped(15, "no time"),
    acts.MountingEnded(16),
    acts.VisitEnded(17, "no time"),
    acts.Rated(18, "front", "pain", 2.5),
    acts.Rated(18, "front", "pain", None),
    acts.Guessed(19, None, 3, "could be either"),
    acts.Guessed(19, "B", 10),
    acts.Gauged(20, "K4", "Shore 00", "rear", "left", 3.0, "glass", (31.0, 33.5), 11.5, None),
    acts.ItemFact(21, "K4", "weight", 182.5),
    acts.Noted(22, "fan on"),
    acts.PhotoKept(22, "photos/m01-1.jpg", "5a" * 32),
    acts.ClockJumped(23, -3600.0, 0.0),
    acts.DataLocked(24, "the analyst"),
    acts.Revealed(25, "the analyst", "all is done", True, "5a" * 32),
)


class Walk:
    """Does acts one after the other, a second apart unless said otherwise."""

    def __init__(self, plan: Plan | None = None) -> None:
        self.plan = made_plan() if plan is None else plan
        self.state = ConductState()
        self.t_s = 0.0

    @property
    def now_ns(self) -> int:
        """The time of the last act."""
        return to_ns(self.t_s)

    def do(self, kind: type[Any], *values: Any, after_s: float = 1.0) -> ConductState:
        """Do an act; what it raises changes nothing."""
        self.t_s += after_s
        self.state = step(self.plan, self.state, kind(self.now_ns, *values))
        return self.state

    def begin(self) -> ConductState:
        """Begin the visit and its first mounting, with its check list."""
        self.do(acts.VisitBegun, 1)
        return self.mount()

    def mount(self) -> ConductState:
        """Begin the next mounting and go through its check list."""
        self.do(acts.MountingBegun)
        for line in check_list(self.plan.design):
            self.do(acts.LineDone, line.key, "12.5" if line.entry is Entry.NUMBER else "")
        return self.state

    def reset(self) -> ConductState:
        """Go through the reset of the trial under way, each step as long as it takes."""
        before_s = 1.0
        for moment in RITUAL:
            self.do(acts.RitualDone, moment, after_s=before_s)
            before_s = RITUAL_S[moment]
        return self.state

    def ride(self, n: int = GOAL) -> ConductState:
        """Ride the next trial up to n confirmed strokes and close it."""
        self.do(acts.TrialBegun, "trials/x")
        self.reset()
        self.do(acts.HoldSeen, Phase.STEADYING, 0)
        self.do(acts.HoldSeen, Phase.IN_POSITION, 0)
        self.do(acts.HoldSeen, Phase.IN_POSITION, n)
        self.do(acts.TrialClosed, n, to_ns(0.7 * n))
        return self.do(acts.Rated, "front", "comfort", 7.0)

    def finish_mounting(self) -> ConductState:
        """Ride both trials of the mounting under way, end it, and guess."""
        for _ in self.plan.design.hands:
            self.ride()
        self.do(acts.MountingEnded)
        return self.do(acts.Guessed, "A", 5)


def any_act(chance: Random, plan: Plan, t_ns: int, n_before: int) -> Act:
    """Return an act that somebody might try, possible or not; n_before: strokes confirmed."""
    design = plan.design
    line = chance.choice(check_list(design))
    reason = chance.choice(["", " ", "because", "because"])
    n = max(0, n_before + chance.choice([-3, 0, 1, 4]))
    tried: list[tuple[int, Act]] = [
        (1, acts.VisitBegun(t_ns, chance.choice([0, 1, 1, 2]))),
        (1, acts.Reopened(t_ns, "between trials")),
        (2, acts.WarmUp(t_ns, chance.choice([True, False]))),
        (6, acts.MountingBegun(t_ns)),
        (4, acts.LineDone(t_ns, chance.choice([line.key, "no such"]), chance.choice(["", "1"]))),
        (4, acts.LineSkipped(t_ns, line.key, reason)),
        (30, acts.RitualDone(t_ns, chance.choice(RITUAL))),
        (6, acts.Overridden(t_ns, chance.choice([*StartNeed, "no such"]), reason)),
        (10, acts.TrialBegun(t_ns, "trials/x")),
        (30, acts.HoldSeen(t_ns, chance.choice(list(Phase)), n)),
        (4, acts.Waiting(t_ns, reason)),
        (4, acts.WaitOver(t_ns)),
        (4, acts.TrialClosed(t_ns, n, to_ns(0.7 * n), reason)),
        (2, acts.TrialRepeated(t_ns, reason)),
        (2, acts.TrialSkipped(t_ns, reason)),
        (1, acts.MountingSkipped(t_ns, reason)),
        (6, acts.MountingEnded(t_ns)),
        (1, acts.VisitEnded(t_ns, reason) if chance.random() < 0.1 else acts.Noted(t_ns, "n")),
        (3, acts.Rated(t_ns, "front", "pain", chance.choice([None, 0.0, 10.0, 11.0]))),
        (3, acts.Guessed(t_ns, chance.choice(["A", "B", "C", None]), chance.choice([0, 10, 11]))),
        (1, acts.Gauged(t_ns, "K4", "OO", "z", "", 3.0, "", chance.choice([(), (31.0,)]))),
        (1, acts.ItemFact(t_ns, "K4", chance.choice(["weight", "colour"]), 1.0)),
        (1, acts.ClockJumped(t_ns, 3600.0, 0.0)),
    ]
    return chance.choices([act for _, act in tried], [weight for weight, _ in tried])[0]
