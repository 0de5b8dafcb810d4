"""How long the rest of a visit takes, against durations worked by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest
from made_plans import made_design

from posewatch.core.outputs import Phase
from posewatch.core.records import NS_PER_S
from posewatch.errors import BadInput
from posewatch.trials import acts, conduct
from posewatch.trials.acts import Act
from posewatch.trials.check_list import check_list
from posewatch.trials.conduct_state import ConductState
from posewatch.trials.kinds import Entry
from posewatch.trials.plan import make_plan
from posewatch.trials.time_left import time_left_s
from posewatch.trials.words import RITUAL

# As in test_duration: 51 strokes at 85 % are 60, and 5 that steady: 65 s at 60 rpm.
PLAN = make_plan(
    made_design(
        mountings=2,
        hands=("hoods", "drops"),
        familiarisation=False,
        goal_strokes=51,
        cadence_rpm=60.0,
        item_rest_s=0.0,
    )
)
#: Work, sit-in, bridge, reset and strokes twice, change of hands, ratings.
MOUNTING_S = 300.0 + 180.0 + 20.0 + 2 * (25.0 + 65.0) + 45.0 + 90.0


NEW = ConductState()


def after(*done: Act, state: ConductState = NEW) -> ConductState:
    for act in done:
        state = conduct.step(PLAN, state, act)
    return state


BEGUN = after(acts.VisitBegun(0, 1))
WARM = after(acts.WarmUp(0, True), acts.WarmUp(600 * NS_PER_S, False), state=BEGUN)


def left_s(state: ConductState, t_s: float = 0.0) -> float:
    return time_left_s(PLAN, state, round(t_s * NS_PER_S))


def test_all_of_it_at_the_beginning() -> None:
    assert left_s(BEGUN) == pytest.approx(600.0 + 4 * MOUNTING_S)


def test_the_warm_up_runs_down_and_is_over_once_passed_over() -> None:
    riding = after(acts.WarmUp(0, True), state=BEGUN)
    assert left_s(riding, 150.0) == pytest.approx(450.0 + 4 * MOUNTING_S)
    assert left_s(riding, 700.0) == pytest.approx(4 * MOUNTING_S)
    passed = after(acts.Overridden(0, "warm-up", "warm already"), state=BEGUN)
    assert left_s(passed) == left_s(WARM) == pytest.approx(4 * MOUNTING_S)


def test_a_mounting_gets_shorter_line_by_line_and_trial_by_trial() -> None:
    mounted = after(acts.MountingBegun(0), state=WARM)
    assert left_s(mounted) == pytest.approx(4 * MOUNTING_S)
    lines = check_list(PLAN.design)
    for n, line in enumerate(lines, 1):
        value = {Entry.TICK: "", Entry.NUMBER: "3", Entry.TEXT: "so"}[line.entry]
        mounted = after(acts.LineDone(0, line.key, value), state=mounted)
        assert left_s(mounted) == pytest.approx(4 * MOUNTING_S - 300.0 * n / len(lines))
    riding = after(
        acts.TrialBegun(0, "trials/1"),
        *(acts.RitualDone(10 * k * NS_PER_S, one) for k, one in enumerate(RITUAL)),
        acts.HoldSeen(0, Phase.IN_POSITION, 17),
        state=mounted,
    )
    # A third of the first trial's 65 s.
    assert left_s(riding) == pytest.approx(4 * MOUNTING_S - 300.0 - 65.0 / 3)
    ridden = after(acts.TrialClosed(0, 51, NS_PER_S), state=riding)
    rest_s = 45.0 + 25.0 + 65.0 + 90.0
    assert left_s(ridden) == pytest.approx(rest_s + 3 * MOUNTING_S)
    done = after(acts.TrialSkipped(0, "late"), state=ridden)
    assert left_s(done) == pytest.approx(90.0 + 3 * MOUNTING_S)
    off = after(acts.MountingEnded(0), state=done)
    assert left_s(off) == pytest.approx(3 * MOUNTING_S)


def test_a_visit_that_is_over_takes_no_time_and_one_not_begun_is_refused() -> None:
    assert left_s(after(acts.VisitEnded(0, "rain"), state=WARM)) == 0.0
    skipped = WARM
    for _ in range(4):
        skipped = after(acts.MountingSkipped(0, "late"), state=skipped)
    assert left_s(skipped) == 0.0
    with pytest.raises(BadInput):
        left_s(replace(BEGUN, visit=0))
