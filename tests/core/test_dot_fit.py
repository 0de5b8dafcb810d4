"""Spots and dots: what fits, and what is given to which."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from posewatch.core import dot_fit
from posewatch.core.dot_fit import ANKLE_DOT, N_DOTS, PEDAL_DOT, Expected, Spot

#: A disc of radius r spreads by r^2 / 4 along each axis (second moment of area over area).
ROUND = Spot(100.0, 100.0, 28.0, 2.25, 0.0, 2.25)
EXPECTED = Expected(((103.0, 104.0),), 10.0, 0.0, True)
LIMITS = (20.0, 40.0)


def smeared(way_px: float, turn_rad: float) -> Spot:
    """Return the spot of a disc that moved on a line: its spread grows by s^2 / 12 along it."""
    c, s, more = math.cos(turn_rad), math.sin(turn_rad), way_px**2 / 12
    return replace(ROUND, xx=ROUND.xx + more * c * c, xy=more * c * s, yy=ROUND.yy + more * s * s)


def test_the_cost_is_the_share_of_the_reach() -> None:
    assert dot_fit.cost(EXPECTED, ROUND, LIMITS) == pytest.approx(0.5)


@pytest.mark.parametrize(
    ("expected", "spot"),
    [
        (replace(EXPECTED, reach_px=5.0), ROUND),
        (EXPECTED, replace(ROUND, area_px=19.0)),
        (EXPECTED, replace(ROUND, area_px=41.0)),
        (EXPECTED, replace(ROUND, xx=9.0, yy=1.0)),
        (replace(EXPECTED, rivals=((101.0, 100.0),)), ROUND),
        (replace(EXPECTED, joints=((150.0, 100.0),), astray_px=40.0), ROUND),
        (replace(EXPECTED, places=()), ROUND),
    ],
    ids=["too far", "too small", "too large", "not round", "rival", "astray", "nowhere"],
)
def test_what_cannot_be_the_dot_costs_without_end(expected: Expected, spot: Spot) -> None:
    assert dot_fit.cost(expected, spot, LIMITS) == math.inf


@pytest.mark.parametrize("turn_rad", [0.0, 0.6, 2.0])
def test_a_dot_may_be_smeared_over_its_way_and_no_farther(turn_rad: float) -> None:
    moving = replace(EXPECTED, way_px=14.0)
    assert dot_fit.cost(moving, smeared(14.0, turn_rad), LIMITS) < 1.0
    assert dot_fit.cost(moving, smeared(7.0, turn_rad), LIMITS) < 1.0
    assert dot_fit.cost(EXPECTED, smeared(14.0, turn_rad), LIMITS) == math.inf
    assert dot_fit.cost(moving, smeared(22.0, turn_rad), LIMITS) == math.inf


def dearest(costs: list[list[float]], spots: list[Spot]) -> float:
    """Return the least sum over every way of giving spots to dots: the definition itself."""
    ways = product(*([None, *range(len(spots))] for _ in range(N_DOTS)))
    least = math.inf
    for way in ways:
        given_out = [at for at in way if at is not None]
        ankle, pedal = way[ANKLE_DOT], way[PEDAL_DOT]
        upside_down = (
            ankle is not None and pedal is not None and spots[ankle].y_px >= spots[pedal].y_px
        )
        if len(set(given_out)) == len(given_out) and not upside_down:
            least = min(least, sum(1.0 if at is None else costs[i][at] for i, at in enumerate(way)))
    return least


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(0, 4))
def test_the_whole_fits_best(seed: int, n_spots: int) -> None:
    rng = np.random.default_rng(seed)
    spots = [replace(ROUND, y_px=float(y)) for y in rng.uniform(0, 400, n_spots)]
    costs = [
        [float(c) if c < 1 else math.inf for c in rng.uniform(0, 1.6, n_spots)]
        for _ in range(N_DOTS)
    ]
    chosen = dot_fit.assign(costs, spots)
    taken = [at for at in chosen if at is not None]
    assert len(set(taken)) == len(taken)
    total = sum(1.0 if at is None else costs[i][at] for i, at in enumerate(chosen))
    assert total == pytest.approx(dearest(costs, spots))


def test_the_larger_of_two_spots_at_one_place_stays() -> None:
    part = replace(ROUND, x_px=101.0, area_px=12.0)
    other = replace(ROUND, x_px=140.0, area_px=9.0)
    assert dot_fit.distinct([part, other, ROUND], 3.0) == [ROUND, other]


def test_places_near_one_before_them_are_left_out() -> None:
    assert dot_fit.apart([(0.0, 0.0), None, (1.0, 1.0), (5.0, 0.0)], 3.0) == [
        (0.0, 0.0),
        (5.0, 0.0),
    ]
