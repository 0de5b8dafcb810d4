"""Balance of orders worked by hand."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from made_plans import designs, made_design

from posewatch.trials.balance import balance
from posewatch.trials.plan import Design, make_plan
from posewatch.trials.words import OrderKind


def test_two_reversed_pairs() -> None:
    """AB BA: both at mean place 2.5 of four; B is mounted twice running."""
    found = balance(make_plan(made_design(mountings=2)))
    assert found.places == ((1, 1), (1, 1))
    assert found.follows == ((0, 1), (1, 0))
    assert found.visit_places == (2.5, 2.5)
    assert (found.even_places, found.follow_counts, found.repeats) == (True, (1, 1), 1)
    assert found.drift_cancels


def test_three_pairs_cannot_cancel_drift() -> None:
    """AB BA AB: places 1, 4, 5 and 2, 3, 6 of six, means 10/3 and 11/3."""
    found = balance(make_plan(made_design()))
    assert found.places == ((2, 1), (1, 2))
    assert found.visit_places == pytest.approx((10 / 3, 11 / 3), abs=1e-12)
    assert found.drift_share == pytest.approx(1 / 3, abs=1e-12)
    assert not found.drift_cancels
    assert (found.even_places, found.follow_counts, found.repeats) == (False, (1, 2), 2)


def test_places_begin_anew_with_each_visit() -> None:
    """Over two visits of three pairs, both items come to mean place 3.5 of six."""
    found = balance(make_plan(made_design(mountings=6, n_visits=2)))
    assert found.visit_places == (3.5, 3.5)
    assert found.drift_cancels


def test_williams_for_four() -> None:
    design = made_design(n_items=4, mountings=4, order=OrderKind.WILLIAMS)
    found = balance(make_plan(design))
    assert found.places == ((1,) * 4,) * 4
    assert found.follow_counts == (1, 1)
    assert found.drift_cancels


@settings(max_examples=60, derandomize=True, deadline=None)
@given(designs())
def test_what_drift_leaves_is_what_a_drifting_ride_shows(design: Design) -> None:
    """Items all alike, each mounting 1 more than the one before, each visit anew."""
    plan = make_plan(design)
    values: list[list[float]] = [[] for _ in range(design.n_items)]
    for visit in plan.visits:
        for drift, one in enumerate(visit.counted):
            values[one.slot].append(float(drift))
    means = [sum(found) / len(found) for found in values]
    found = balance(plan)
    assert found.drift_share == pytest.approx(max(means) - min(means), abs=1e-9)
    assert found.drift_cancels == (max(means) - min(means) < 1e-9)
