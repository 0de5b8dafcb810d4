"""Smear and pictures a revolution, against the arithmetic written out."""

from __future__ import annotations

import math

import pytest

from posewatch.core.filming import (
    filming_advice,
    pedal_speed_mm_s,
    pictures_per_revolution,
    smear_mm,
    under_reading_deg,
)


def test_a_pedal_at_90_rpm() -> None:
    # 2 pi 0.170 m x 1.5 turns a second = 1.602 m/s.
    assert pedal_speed_mm_s(90) == pytest.approx(1602.2, abs=0.1)
    assert pedal_speed_mm_s(90, 85.0) == pytest.approx(1602.2 / 2, abs=0.1)


@pytest.mark.parametrize(
    ("shutter", "smear"), [(60, 26.7), (125, 12.8), (250, 6.4), (500, 3.2), (1000, 1.6)]
)
def test_smear_at_90_rpm(shutter: int, smear: float) -> None:
    assert smear_mm(1 / shutter, 90) == pytest.approx(smear, abs=0.05)


@pytest.mark.parametrize(
    ("rate_hz", "cadence_rpm", "pictures", "missed_deg"),
    [
        (15, 60, 15.0, 0.82),
        (15, 90, 10.0, 1.84),
        (15, 110, 8.18, 2.73),
        (25, 90, 16.67, 0.66),
        (30, 60, 30.0, 0.21),
        (30, 90, 20.0, 0.46),
        (30, 110, 16.36, 0.69),
        (60, 90, 40.0, 0.12),
    ],
)
def test_pictures_and_the_extreme_they_miss(
    rate_hz: float, cadence_rpm: float, pictures: float, missed_deg: float
) -> None:
    # A knee that swings by 37.5 degrees about its mean: A (1 - cos(pi / N)).
    assert pictures_per_revolution(rate_hz, cadence_rpm) == pytest.approx(pictures, abs=0.01)
    assert under_reading_deg(rate_hz, cadence_rpm) == pytest.approx(missed_deg, abs=0.006)


def test_what_is_missed_is_the_worst_of_all_phases() -> None:
    n = 20
    worst = max(
        37.5 - max(37.5 * math.cos(2 * math.pi * (k + phase / 100) / n) for k in range(n))
        for phase in range(100)
    )
    assert under_reading_deg(30, 90) == pytest.approx(worst, abs=1e-3)


def test_advice_only_where_something_is_to_be_done() -> None:
    assert filming_advice(1 / 500, 30.0) == []
    (slow,) = filming_advice(1 / 60, 30.0)
    assert "1/60 s" in slow
    assert "27 mm" in slow
    (few,) = filming_advice(1 / 500, 15.0)
    assert "10 a revolution" in few
    assert "1.8 degrees low" in few
    (unknown,) = filming_advice(None, None)
    assert "27 mm at 1/60 s and 6 mm at 1/250 s" in unknown
    assert len(filming_advice(1 / 30, 10.0, 110.0)) == 2
