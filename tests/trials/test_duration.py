"""Expected durations worked by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from made_plans import designs, made_design

from posewatch.trials.duration import Share, expected_duration
from posewatch.trials.plan import Design, make_plan


def test_two_reversed_pairs_by_hand() -> None:
    """AB BA: item B waits, item A has rested meanwhile.

    51 strokes at 85 % are 60, and 5 that steady: 65 s at 60 rpm. Ridden each time 180 + 20 + 25 +
    65 = 290 s. The second mounting of B is ready 390 s after its first was unloaded (90 s of
    ratings, 300 s of work) and waits 210 s.
    """
    design = made_design(
        mountings=2, hands=("hoods",), familiarisation=False, goal_strokes=51, cadence_rpm=60.0
    )
    (visit,) = expected_duration(make_plan(design))
    assert visit.seconds == pytest.approx(
        {
            Share.WARM_UP: 600.0,
            Share.WORK: 4 * 300.0,
            Share.ITEM_REST: 210.0,
            Share.SIT_IN: 4 * 180.0,
            Share.BRIDGE: 4 * 20.0,
            Share.RESET: 4 * 25.0,
            Share.HAND_CHANGE: 0.0,
            Share.STROKES: 4 * 65.0,
            Share.RATING: 4 * 90.0,
        }
    )
    assert visit.total_s == pytest.approx(3530.0)


def test_a_second_hand_position_adds_its_sit_in_reset_and_strokes() -> None:
    one = made_design(hands=("hoods",), cadence_rpm=60.0, item_rest_s=0.0, goal_strokes=51)
    two = replace(one, hands=("hoods", "drops"))
    (short,), (long,) = (expected_duration(make_plan(design)) for design in (one, two))
    # Seven mountings, the discarded one too.
    assert long.total_s - short.total_s == pytest.approx(7 * (45.0 + 25.0 + 65.0))


def test_each_visit_warms_up_and_only_the_first_has_the_discarded_mounting() -> None:
    design = made_design(mountings=6, n_visits=2)
    first, second = expected_duration(make_plan(design))
    assert (first.visit, second.visit) == (1, 2)
    assert first.seconds[Share.WARM_UP] == second.seconds[Share.WARM_UP] == 600.0
    assert first.seconds[Share.WORK] - second.seconds[Share.WORK] == 300.0


@settings(max_examples=40, derandomize=True, deadline=None)
@given(designs())
def test_longer_rests_never_shorten_a_visit(design: Design) -> None:
    plans = [make_plan(replace(design, item_rest_s=rest_s)) for rest_s in (0.0, 600.0, 3600.0)]
    totals = [[visit.total_s for visit in expected_duration(plan)] for plan in plans]
    for none, usual, long in zip(*totals, strict=True):
        assert none <= usual + 1e-6
        assert usual <= long + 1e-6
    assert all(visit.seconds[Share.ITEM_REST] == 0.0 for visit in expected_duration(plans[0]))
