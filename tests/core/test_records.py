"""The measuring chain: its fingerprint, and what two chains differ in."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

import pytest

from posewatch.core.records import MeasuringChain

CHAIN = MeasuringChain(
    "studio front", 640, 480, 30.0, "full", "ab" * 32, "pose library 1", 1, "black shorts"
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
}


def test_every_part_of_the_chain_is_covered_here() -> None:
    assert set(OTHER_PARTS) == {field.name for field in fields(MeasuringChain)}


@pytest.mark.parametrize("part", OTHER_PARTS)
def test_any_other_part_changes_the_fingerprint_and_is_named(part: str) -> None:
    other = replace(CHAIN, **{part: OTHER_PARTS[part]})
    assert other.fingerprint() != CHAIN.fingerprint()
    (difference,) = CHAIN.differences(other)
    mine, theirs = str(getattr(CHAIN, part)), str(OTHER_PARTS[part])
    if part == "model_sha256":  # 64 digits each would drown the rest of the message
        mine, theirs = f"{mine[:12]}...", f"{theirs[:12]}..."
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
