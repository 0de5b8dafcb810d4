"""The motion of patches that move as one."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_findings import found, grid_px, moved_by

from posewatch.core.view_motion import MIN_PATCHES, motion, moved_places_px

WIDTH, HEIGHT = 640, 480


@settings(max_examples=60, deadline=None)
@given(
    right=st.floats(-40, 40),
    down=st.floats(-40, 40),
    scale=st.floats(0.9, 1.1),
    roll=st.floats(-5, 5),
    seed=st.integers(0, 10_000),
)
def test_a_motion_is_told_though_every_third_patch_goes_astray(
    right: float, down: float, scale: float, roll: float, seed: int
) -> None:
    seeded = np.random.default_rng(seed)
    places = grid_px()
    shifts = moved_by(places, right, down, scale, roll) + seeded.normal(0, 0.1, places.shape)
    astray = seeded.permutation(len(places))[: len(places) // 3]
    shifts[astray] = seeded.uniform(-48, 48, (len(astray), 2))
    told = motion(found(places, shifts))
    assert told is not None
    assert told.shift_px == pytest.approx((right, down), abs=0.2)
    assert told.scale == pytest.approx(scale, abs=0.001)
    assert told.roll_deg == pytest.approx(roll, abs=0.06)
    kept = np.setdiff1d(np.arange(len(places)), astray)
    assert told.agree[kept].all()
    assert np.count_nonzero(told.agree[astray]) <= 2


def test_positive_roll_is_clockwise_in_the_picture() -> None:
    # y points down, so a clockwise turn takes the top of the picture to the right.
    told = motion(found(grid_px(), moved_by(grid_px(), roll_deg=2.0)))
    assert told is not None
    assert told.roll_deg == pytest.approx(2.0)
    top = found(np.array([[WIDTH / 2, 0.0]]), np.zeros((1, 2)))
    x_px, y_px = moved_places_px(top, told)[0]
    assert x_px == pytest.approx(WIDTH / 2 + 240 * math.sin(math.radians(2)))
    assert y_px == pytest.approx(240 - 240 * math.cos(math.radians(2)))


def test_moved_places_are_where_the_patches_are_found() -> None:
    places = grid_px()
    shifts = moved_by(places, 5, -3, 1.02, 1.0)
    findings = found(places, shifts)
    told = motion(findings)
    assert told is not None
    assert moved_places_px(findings, told) == pytest.approx(places + shifts)


def test_patches_that_the_rider_hides_are_no_evidence() -> None:
    places = grid_px()
    shifts = np.zeros_like(places)
    hidden = places[:, 0] < 400
    shifts[hidden] = (9.0, 0.0)
    told = motion(found(places, shifts, expected=~hidden))
    assert told is not None
    assert told.shift_px == pytest.approx((0, 0))
    assert not told.agree[hidden].any()


def test_too_few_patches_tell_nothing() -> None:
    places = grid_px()[: MIN_PATCHES - 1]
    assert motion(found(places, np.zeros_like(places))) is None


def test_patches_that_go_every_way_tell_nothing() -> None:
    places = grid_px()
    shifts = np.random.default_rng(1).uniform(-12, 12, places.shape)
    assert motion(found(places, shifts)) is None


def test_a_small_part_that_moves_as_one_tells_nothing() -> None:
    places = grid_px()
    shifts = np.full_like(places, np.nan)
    shifts[: len(places) // 5] = (20.0, 0.0)
    assert motion(found(places, shifts)) is None


def test_patches_close_together_tell_a_shift_only() -> None:
    near = np.stack(np.meshgrid(np.arange(5) * 10.0, np.arange(4) * 10.0), axis=-1).reshape(-1, 2)
    shifts = np.random.default_rng(2).normal((3.0, 0.0), 0.2, near.shape)
    told = motion(found(near, shifts))
    assert told is not None
    assert (told.scale, told.roll_deg) == (1.0, 0.0)
    assert told.shift_px == pytest.approx((3.0, 0.0), abs=0.15)


def test_the_tolerance_grows_with_the_picture() -> None:
    places = grid_px()
    shifts = np.random.default_rng(3).uniform(-1.4, 1.4, places.shape)
    small, large = motion(found(places, shifts)), motion(found(3 * places, shifts, size=3))
    assert small is not None
    assert large is not None
    assert not small.agree.all()
    assert large.agree.all()
