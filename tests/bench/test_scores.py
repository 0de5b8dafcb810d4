"""Figures from series whose errors are known."""

from __future__ import annotations

import numpy as np
import pytest

from posewatch.bench import scores
from posewatch.bench.scores import Series
from posewatch.core import harmonics
from posewatch.core.channels import N_COLUMNS

RATE_HZ = 30.0
RPM = 90.0


def series(
    seconds: float = 20.0, rpm: float = RPM, angle_off_deg: object = 0.0, values: object = 0.0
) -> Series:
    t_s = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    angle = 6.0 * rpm * t_s + np.asarray(angle_off_deg)
    table = np.zeros((len(t_s), N_COLUMNS)) + np.asarray(values).reshape(-1, 1)
    return Series(np.round(1e9 * t_s).astype(np.int64), np.radians(angle), table)


def test_revolutions_and_their_means() -> None:
    exact = series()
    angle_deg = np.degrees(exact.angle_rad)
    wave = series(values=50.0 + 10.0 * np.cos(np.radians(angle_deg)))
    found = scores.revolutions(wave)
    # 20 s at 90 rpm are 30 turns; the first begins at a top that no picture comes before, and the
    # last ends after the last picture.
    assert len(found) == 28
    assert all(r.means == pytest.approx(50.0, abs=0.1) for r in found)
    assert [r.end_ns - r.start_ns for r in found] == pytest.approx([60e9 / RPM] * 28, rel=1e-3)


def test_nothing_is_joined_over_unknown_angles() -> None:
    broken = series()
    broken.angle_rad[310] = np.nan
    assert len(scores.revolutions(broken)) == 27


def test_paired_means_are_over_the_same_spans() -> None:
    """A value that climbs 1 unit a second, measured 2.5 higher and with strokes 60 degrees late."""
    climb = np.arange(600) / RATE_HZ
    exact = series(values=climb)
    measured = series(angle_off_deg=-60.0, values=climb + 2.5)
    mine, true = scores.paired_means(measured, exact)
    assert len(mine) == len(true) >= 27
    assert mine - true == pytest.approx(2.5, abs=0.04)
    assert scores.slope(mine[:, 0], true[:, 0]) == pytest.approx(1.0, abs=1e-3)


def test_no_strokes_make_no_pairs() -> None:
    mine, true = scores.paired_means(series(rpm=0.0), series())
    assert mine.shape == true.shape == (0, N_COLUMNS)


def test_unknown_values_are_left_out_of_the_pairs() -> None:
    measured = series(values=1.0)
    measured.values[200:220] = np.nan
    mine, _ = scores.paired_means(measured, series(values=1.0))
    assert 0 < len(mine) < len(scores.paired_means(series(values=1.0), series(values=1.0))[0])


def test_angle_errors_are_about_their_mean_once_settled() -> None:
    wobble = 4.0 * np.sin(2 * np.pi * np.arange(600) / 60)
    wobble[: round(scores.SETTLING_S * RATE_HZ)] = 170.0
    errors = scores.angle_errors_deg(series(angle_off_deg=wobble + 720.0 + 25.0), series())
    assert len(errors) == 540
    assert errors.mean() == pytest.approx(0.0, abs=0.01)
    # A sine of amplitude 4 has an SD of 4 / sqrt(2).
    assert errors.std() == pytest.approx(4.0 / np.sqrt(2.0), rel=1e-3)


@pytest.mark.parametrize("off_rpm", [-2.0, 0.0, 0.7])
def test_cadence_errors(off_rpm: float) -> None:
    errors = scores.cadence_errors_rpm(series(rpm=RPM + off_rpm), series())
    assert len(errors) == 300
    assert errors == pytest.approx(off_rpm, abs=1e-6)


def test_a_ride_shorter_than_the_window_has_no_cadence_error() -> None:
    assert len(scores.cadence_errors_rpm(series(8.0), series(8.0))) == 0


def test_slope() -> None:
    x = np.linspace(-3, 5, 40)
    assert scores.slope(0.9 * x - 7.0, x) == pytest.approx(0.9)


def test_smallest_flexion_is_of_the_curve_not_of_the_noise() -> None:
    """Knee 70 - 40 cos(angle), 3 degrees more from the middle on, noise of 2 degrees."""
    exact = series(40.0)
    curve = 70.0 - 40.0 * np.cos(exact.angle_rad)
    shift = np.where(np.arange(1200) < 600, 0.0, 3.0)
    noise = np.random.default_rng(2).normal(0.0, 2.0, 1200)
    centre = harmonics.fit(exact.angle_rad, curve, 6)
    found = scores.smallest_flexion_deg(
        series(40.0, values=curve + shift + noise), list(centre), column=1
    )
    before, after = found[found[:, 0] < 19.5e9, 1], found[found[:, 0] > 21e9, 1]
    assert before.mean() == pytest.approx(30.0, abs=0.6)
    assert after.mean() == pytest.approx(33.0, abs=0.6)
    noisy = curve[:600] + noise[:600]
    strokes_lows = [noisy[start : start + 20].min() for start in range(0, 600, 20)]
    assert np.mean(strokes_lows) < before.mean() - 0.4, "the smallest sample is biased low"


def test_no_stroke_has_no_smallest_flexion() -> None:
    assert scores.smallest_flexion_deg(series(rpm=0.0), [30.0], column=1).shape == (0, 2)
