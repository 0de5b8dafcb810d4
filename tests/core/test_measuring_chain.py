"""The measuring chain: its fingerprint, and what two chains differ in."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

import pytest

from posewatch.core.measuring_chain import (
    UNCALIBRATED,
    MeasuringChain,
    PointSource,
    ViewedFrom,
)

SEEN_FROM = ViewedFrom("cd" * 8, 1.0, -2.0, 3500.0)
CHAIN = MeasuringChain(
    "studio front",
    640,
    480,
    30.0,
    "full",
    "ab" * 32,
    "pose library 1",
    1,
    "black shorts",
    SEEN_FROM,
)
OTHER_PARTS: dict[str, Any] = {
    "camera_profile": "another",
    "width_px": 1280,
    "height_px": 720,
    "rate_hz": 60.0,
    "model_name": "lite",
    "model_sha256": "cd" * 32,
    "pose_library": "pose library 2",
    "pose_workers": 2,
    "kit": "white shorts",
    "view": None,
    "points": PointSource.DOTS,
}


def test_every_part_of_the_chain_is_covered_here() -> None:
    assert set(OTHER_PARTS) == {field.name for field in fields(MeasuringChain)}


@pytest.mark.parametrize("part", OTHER_PARTS)
def test_any_other_part_changes_the_fingerprint_and_is_named(part: str) -> None:
    other = replace(CHAIN, **{part: OTHER_PARTS[part]})
    assert other.fingerprint() != CHAIN.fingerprint()
    if part == "camera_profile":  # the view says what matters of it
        assert CHAIN.differences(other) == ()
        return
    (difference,) = CHAIN.differences(other)
    mine, theirs = str(getattr(CHAIN, part)), str(OTHER_PARTS[part])
    if part == "model_sha256":  # 64 digits each would drown the rest of the message
        mine, theirs = f"{mine[:12]}...", f"{theirs[:12]}..."
    if part == "view":
        theirs = UNCALIBRATED
    assert difference == f"{part}: {mine} / {theirs}"


def test_a_fingerprint_is_16_hex_digits_and_depends_on_values_only() -> None:
    print_ = CHAIN.fingerprint()
    assert len(print_) == 16
    assert int(print_, 16) >= 0
    assert replace(CHAIN).fingerprint() == print_


def test_the_same_chain_differs_in_nothing() -> None:
    assert CHAIN.differences(replace(CHAIN)) == ()


def test_a_webcam_rate_may_wander_by_a_tenth() -> None:
    assert CHAIN.differences(replace(CHAIN, rate_hz=27.1)) == ()
    assert CHAIN.differences(replace(CHAIN, rate_hz=33.2)) == ()
    assert CHAIN.differences(replace(CHAIN, rate_hz=26.9)) == ("rate_hz: 30.0 / 26.9",)
    assert CHAIN.differences(replace(CHAIN, rate_hz=33.5)) == ("rate_hz: 30.0 / 33.5",)


def test_a_rate_that_wanders_below_a_hertz_keeps_the_fingerprint() -> None:
    assert replace(CHAIN, rate_hz=29.97).fingerprint() == CHAIN.fingerprint()


def test_a_kit_that_nobody_stated_differs_from_none() -> None:
    assert CHAIN.differences(replace(CHAIN, kit="")) == ()
    assert replace(CHAIN, kit="").differences(CHAIN) == ()


def test_several_differences_are_all_named() -> None:
    other = replace(CHAIN, model_name="lite", pose_workers=2)
    assert CHAIN.differences(other) == ("model_name: full / lite", "pose_workers: 1 / 2")


# --- the view -------------------------------------------------------------------------------------


def seen_from(**parts: object) -> MeasuringChain:
    return replace(CHAIN, view=replace(SEEN_FROM, **parts))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "parts",
    [
        {"yaw_deg": 2.99},
        {"yaw_deg": -0.99},
        {"pitch_deg": -0.01},
        {"pitch_deg": -3.99},
        {"distance_mm": 3684.0},
        {"distance_mm": 3326.0},
        {"yaw_deg": 2.9, "pitch_deg": -3.9, "distance_mm": 3600.0},
    ],
)
def test_a_camera_that_is_set_up_anew_about_where_it_stood_fits(parts: dict[str, float]) -> None:
    other = replace(seen_from(**parts), camera_profile="set up anew")
    assert CHAIN.differences(other) == ()
    assert other.differences(CHAIN) == ()
    assert other.fingerprint() != CHAIN.fingerprint()


@pytest.mark.parametrize(
    "parts",
    [
        {"yaw_deg": 3.01},
        {"yaw_deg": -1.01},
        {"pitch_deg": 0.01},
        {"pitch_deg": -4.01},
        {"distance_mm": 3685.0},
        {"distance_mm": 3324.0},
        {"lens": "ef" * 8},
    ],
)
def test_another_lens_or_a_camera_that_stands_otherwise_does_not(parts: dict[str, object]) -> None:
    # 2 degrees, and a twentieth of the larger distance.
    other = seen_from(**parts)
    (difference,) = CHAIN.differences(other)
    assert difference.startswith("view: lens cdcdcd, yaw 1.0, pitch -2.0 deg, 3.50 m / lens ")
    assert len(other.differences(CHAIN)) == 1


def test_calibrated_and_uncalibrated_do_not_fit_either_way() -> None:
    bare = replace(CHAIN, camera_profile=UNCALIBRATED, view=None)
    assert CHAIN.differences(bare) == (f"view: {SEEN_FROM} / uncalibrated",)
    assert bare.differences(CHAIN) == (f"view: uncalibrated / {SEEN_FROM}",)
    assert bare.differences(replace(bare)) == ()
