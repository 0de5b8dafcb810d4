"""Curves over the crank circle: exact recovery, and what sampling alone gets wrong."""

from __future__ import annotations

import numpy as np
import pytest

from posewatch.core import harmonics
from posewatch.core.records import FloatArray

TURN = 2 * np.pi
FINE = np.radians(np.arange(0.0, 360.0, 0.1))


def test_the_basis_is_a_mean_and_pairs_of_cosines_and_sines() -> None:
    row = harmonics.basis(np.array([np.pi / 6]), 2)[0]
    assert row == pytest.approx([1.0, np.sqrt(3) / 2, 0.5, 0.5, np.sqrt(3) / 2])


def test_a_curve_of_harmonics_is_recovered_exactly_from_uneven_samples() -> None:
    random = np.random.default_rng(2)
    coefficients = random.normal(size=(7, 2))
    angles = np.sort(random.uniform(0, TURN, 40))
    values = harmonics.evaluate(coefficients, angles)
    assert values.shape == (40, 2)
    assert harmonics.fit(angles, values, 3) == pytest.approx(coefficients, abs=1e-9)


def test_one_curve_stays_one_dimensional() -> None:
    angles = np.linspace(0, TURN, 20)
    coefficients = harmonics.fit(angles, 3.0 + np.sin(angles), 1)
    assert coefficients == pytest.approx([3.0, 0.0, 1.0], abs=1e-12)
    assert harmonics.evaluate(coefficients, np.array([np.pi / 2])) == pytest.approx([4.0])


def test_too_few_samples_are_refused() -> None:
    with pytest.raises(ValueError, match="4 samples cannot carry 2 harmonics"):
        harmonics.fit(np.arange(4.0), np.arange(4.0), 2)


@pytest.mark.parametrize(
    ("rate_hz", "rpm", "frames", "under_reading"),
    [
        # Computed: frames a revolution = 60 fps / rpm; the worst case A(1 - cos(pi/N)), A = 37.5.
        (15, 60, 15.0, 0.82),
        (15, 90, 10.0, 1.84),
        (15, 110, 8.18, 2.73),
        (25, 60, 25.0, 0.30),
        (25, 90, 16.67, 0.66),
        (25, 110, 13.64, 0.99),
        (30, 60, 30.0, 0.21),
        (30, 90, 20.0, 0.46),
        (30, 110, 16.36, 0.69),
        (60, 60, 60.0, 0.05),
        (60, 90, 40.0, 0.12),
        (60, 110, 32.7, 0.17),
    ],
)
def test_samples_miss_an_extreme_that_the_fitted_curve_finds(
    rate_hz: float, rpm: float, frames: float, under_reading: float
) -> None:
    per_turn = 60.0 * rate_hz / rpm
    assert per_turn == pytest.approx(frames, abs=0.05)
    # Samples as far from the peak as they can lie: half a step to either side of it.
    steps = np.arange(-int(per_turn / 2) - 1, int(per_turn / 2) + 1, dtype=np.float64) + 0.5
    angles: FloatArray = steps * TURN / per_turn
    values = 71.25 + 37.5 * np.cos(angles)
    assert 71.25 + 37.5 - values.max() == pytest.approx(under_reading, abs=0.006)
    curve = harmonics.evaluate(harmonics.fit(angles, values, 2), FINE)
    assert curve.max() == pytest.approx(71.25 + 37.5, abs=0.001)


def test_the_smallest_of_noisy_samples_is_biased_and_the_fitted_smallest_is_not() -> None:
    # Computed, seeded: 71.25 + 37.5 cos over 20 samples a turn with noise of SD 2, true minimum
    # 33.75: the plain minimum averages 33.01, that of a fit of two harmonics 33.70 with SD 1.00.
    random = np.random.default_rng(1)
    angles = np.arange(20) * TURN / 20
    noisy = 71.25 + 37.5 * np.cos(angles)[:, None] + random.normal(0, 2.0, (20, 4000))
    assert noisy.min(axis=0).mean() == pytest.approx(33.01, abs=0.05)
    near_bottom = np.radians(np.arange(140.0, 220.0, 1.0))
    fitted = harmonics.evaluate(harmonics.fit(angles, noisy, 2), near_bottom).min(axis=0)
    assert fitted.mean() == pytest.approx(33.70, abs=0.05)
    assert fitted.std() == pytest.approx(1.00, abs=0.05)


def test_the_mean_of_a_fit_is_the_mean_over_the_angle_not_of_samples() -> None:
    # Computed: 101 points from 0 to 360 repeat the end point and average 71.621; truth is 71.25.
    angles = np.linspace(0.0, TURN, 101)
    values = 71.25 + 37.5 * np.cos(angles)
    assert values.mean() == pytest.approx(71.621, abs=1e-3)
    assert harmonics.fit(angles, values, 1)[0] == pytest.approx(71.25, abs=1e-9)
