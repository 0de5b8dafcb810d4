"""What is said of a calibration."""

from __future__ import annotations

from dataclasses import replace

import pytest

from posewatch.core.lens_calibration import (
    LensCalibration,
    LensSpread,
    Refusal,
    RejectedView,
    field_of_view_deg,
    lens_advice,
)
from posewatch.core.plane import Lens

SOUND = LensCalibration(
    Lens(640, 480, 600.0, 600.0, 320.0, 240.0),
    0.2,
    LensSpread(0.5, 0.5, 0.6, 0.6),
    18,
    700,
    1.0,
    (-30.0, 30.0),
    (-30.0, 30.0),
    (),
    "lens-a4",
    100.0,
)


def test_a_sound_calibration_needs_no_advice() -> None:
    assert lens_advice(SOUND) == []


@pytest.mark.parametrize(
    ("found", "word"),
    [
        (replace(SOUND, rms_px=0.7), "0.70 px off"),
        (replace(SOUND, spread=LensSpread(6.0, 6.0, 1.0, 1.0)), "only known to 1.0 %"),
        (replace(SOUND, n_views=11), "11 views were used"),
    ],
)
def test_each_weakness_is_one_sentence(found: LensCalibration, word: str) -> None:
    (sentence,) = lens_advice(found)
    assert word in sentence


def test_field_of_view() -> None:
    # 2 atan(320 / 600), 2 atan(240 / 600); off the middle both halves still add up.
    assert field_of_view_deg(SOUND.lens) == pytest.approx((56.145, 43.603), abs=1e-3)
    moved = field_of_view_deg(replace(SOUND.lens, cx_px=0.0))
    assert moved[0] == pytest.approx(46.848, abs=1e-3)


def test_a_reason_tells_its_detail() -> None:
    assert RejectedView("a", Refusal.SAME, "b").reason == "nearly the same as another (b)"
    assert RejectedView("a", Refusal.NO_BOARD).reason == "no board found"
