"""Scatter from stroke to stroke and from sit to sit, by hand and on simulated riders."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal

from posewatch.core.channels import N_COLUMNS
from posewatch.core.envelope import DEFAULT_TOLERANCE, Unit
from posewatch.core.records import Channel, FloatArray
from posewatch.core.sits import Sit
from posewatch.core.spreads import (
    SHAPE_LEAST,
    channel_envelope,
    resit_sd,
    stroke_lag1,
    stroke_sd,
)
from posewatch.core.strokes import Revolution

CENTRES = np.arange(13.0 * N_COLUMNS).reshape(13, N_COLUMNS)


def one_part(*values: float) -> FloatArray:
    return np.array(values)[:, None]


def test_strokes_scatter_about_their_own_sit() -> None:
    # Sits 1 2 3 and 11 13: squares 1 + 0 + 1 and 1 + 1, over 2 + 1 degrees of freedom.
    assert stroke_sd([one_part(1, 2, 3), one_part(11, 13)]) == pytest.approx(np.sqrt(4 / 3))
    assert stroke_sd([one_part(4.0, 4.0)]) == 0.0
    assert stroke_sd([one_part(4.0)]) == 0.0


def test_a_place_s_two_parts_add_as_a_distance_does() -> None:
    random = np.random.default_rng(2)
    both = random.normal(0.0, (3.0, 4.0), (50, 2))
    expected = np.hypot(np.std(both[:, 0], ddof=1), np.std(both[:, 1], ddof=1))
    assert stroke_sd([both]) == pytest.approx(expected)


def test_the_lag_1_correlation_by_hand() -> None:
    # About the mean 0: 1 -1 1 -1 has products -3 and squares 4; 1 1 -1 -1 has 1 - 1 + 1 and 4.
    assert stroke_lag1([one_part(1, -1, 1, -1)]) == pytest.approx(-0.75)
    assert stroke_lag1([one_part(1, 1, -1, -1)]) == pytest.approx(0.25)
    assert stroke_lag1([one_part(6, 6, 4, 4), one_part(1, -1, 1, -1)]) == pytest.approx(-0.25)
    assert stroke_lag1([one_part(2, 2, 2)]) == 0.0


@pytest.mark.parametrize("lag1", [0.0, 0.5, 0.8])
def test_the_lag_1_correlation_of_a_simulated_series(lag1: float) -> None:
    shocks = np.random.default_rng(5).normal(size=(40, 400))
    strokes = signal.lfilter([1.0], [1.0, -lag1], shocks, axis=1)
    assert stroke_lag1([row[:, None] for row in strokes]) == pytest.approx(lag1, abs=0.02)


def test_sits_scatter_by_their_means_and_only_from_three_on() -> None:
    sits = [one_part(1, 3), one_part(4, 4), one_part(7, 9)]
    assert resit_sd(sits) == pytest.approx(np.std([2.0, 4.0, 8.0], ddof=1))
    assert resit_sd(sits[:2]) is None
    assert resit_sd(sits[:1]) is None


def sit(means: FloatArray, spread: float) -> Sit:
    """A sit of strokes with these means in every column, all with one spread."""
    spreads = np.full(N_COLUMNS, spread)
    strokes = [
        Revolution(k, k + 1, np.full(N_COLUMNS, mean), spreads, (None,) * N_COLUMNS)
        for k, mean in enumerate(means.tolist())
    ]
    return Sit(tuple(strokes), len(strokes))


def test_an_envelope_has_the_scatter_the_curve_and_the_default_limit() -> None:
    sits = [sit(np.array((1.0, 2.0, 3.0)) + shift, 2.0) for shift in (0.0, 5.0, 7.0)]
    knee = channel_envelope(Channel.KNEE, sits, CENTRES, Unit.THIGH)
    assert (knee.unit, knee.tol, knee.required) == (Unit.DEG, 4.0, True)
    assert knee.stroke_sd == pytest.approx(1.0)
    assert knee.stroke_lag1 == pytest.approx(0.0)
    assert knee.resit_sd == pytest.approx(np.std([2.0, 7.0, 9.0], ddof=1))
    assert knee.shape_limit == pytest.approx(3.0)  # half as much again as the 95th percentile
    assert knee.centre == (tuple(CENTRES[:, 1].tolist()),)


@pytest.mark.parametrize("unit", [Unit.MM, Unit.THIGH])
def test_a_place_s_limit_is_in_its_unit(unit: Unit) -> None:
    hand = channel_envelope(Channel.HAND_PLACE, [sit(np.zeros(3), 0.0)], CENTRES, unit)
    assert hand.unit is unit
    assert hand.tol * unit.nominal == pytest.approx(DEFAULT_TOLERANCE[Channel.HAND_PLACE])
    assert len(hand.centre) == 2
    assert hand.resit_sd is None
    # A rider who never rocked at capture gets room all the same.
    assert hand.shape_limit == pytest.approx(SHAPE_LEAST * hand.tol)
