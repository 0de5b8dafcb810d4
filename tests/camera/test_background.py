"""The still background kept at set-up, looked for in pictures of the demo clips."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from made_views import (
    HARMLESS,
    another_room,
    blurred,
    clip_landmarks,
    clip_pictures,
    hidden,
    lit,
    noisy,
    warped,
)

from posewatch.camera.background import SIDE_PX, look, make_background
from posewatch.camera.opencv import cv2
from posewatch.core.records import FloatArray
from posewatch.core.sources import Picture
from posewatch.core.view_motion import MIN_PATCHES, Background, Motion, motion
from posewatch.core.view_shift import CONTRAST_LEAST
from posewatch.errors import BadInput


@cache
def empty() -> list[Picture]:
    return [rgb for _, rgb in clip_pictures("empty_bike", 1.0, 6)]


@cache
def set_up() -> Background:
    return make_background(empty())


@cache
def ridden() -> tuple[Picture, FloatArray]:
    """A picture of the rider, and an outline of him and a turn of his legs."""
    t_ns, rgb = clip_pictures("hoods_interruptions", 1.0, 15)[-1]
    landmarks = clip_landmarks("hoods_interruptions")
    points = np.concatenate([px for at_ns, px in landmarks.items() if at_ns <= t_ns])
    hull = cv2.convexHull(points.astype(np.float32)).reshape(-1, 2)
    middle = hull.mean(axis=0)
    return rgb, middle + 1.2 * (hull - middle)


def motion_in(picture: Picture, leave_out_px: FloatArray | None = None) -> Motion:
    told = motion(look(set_up(), picture, leave_out_px))
    assert told is not None
    return told


def test_patches_are_spread_over_the_picture_and_are_what_is_there() -> None:
    background = make_background(empty()[:1])
    grey = cv2.cvtColor(empty()[0], cv2.COLOR_RGB2GRAY)
    assert 40 <= len(background.patches) <= 80
    assert (background.width_px, background.height_px) == (640, 480)
    quarters = {(x > 320, y > 240) for x, y in background.places_px}
    assert len(quarters) == 4
    for patch, (x, y) in zip(background.patches, background.places_px, strict=True):
        left, top = round(x - SIDE_PX / 2), round(y - SIDE_PX / 2)
        there = grey[top : top + SIDE_PX, left : left + SIDE_PX].astype(int)
        assert (there == patch).all()


def test_a_patch_is_the_median_of_the_pictures() -> None:
    pictures = [lit(offset=offset)(empty()[0], 0.0) for offset in (0, 30, 3)]
    one, several = make_background(pictures[2:]), make_background(pictures)
    assert set(map(tuple, one.places_px)) & set(map(tuple, several.places_px))
    there = {tuple(place): patch for place, patch in zip(one.places_px, one.patches, strict=True)}
    for place, patch in zip(several.places_px, several.patches, strict=True):
        if tuple(place) in there:
            assert (patch == there[tuple(place)]).all()


def test_places_count_from_the_outer_corner_of_the_first_pixel() -> None:
    # So counted, a place in a picture twice as large is at twice as many px.
    large = np.kron(empty()[0], np.ones((2, 2, 1), np.uint8))
    assert make_background([large]).places_px == pytest.approx(
        2 * make_background(empty()[:1]).places_px
    )


def test_the_rider_is_left_out_at_set_up() -> None:
    rgb, outline = ridden()
    places = make_background([rgb], outline).places_px
    polygon = outline.astype(np.float32)
    assert len(places) >= MIN_PATCHES
    assert all(cv2.pointPolygonTest(polygon, tuple(map(float, xy)), True) < -9 for xy in places)


def test_what_moves_during_set_up_is_left_out() -> None:
    moving = np.random.default_rng(2).integers(0, 255, (5, 60, 80, 3)).astype(np.uint8)
    pictures = [rgb.copy() for rgb in empty()[:5]]
    for rgb, pattern in zip(pictures, moving, strict=True):
        rgb[60:120, 280:360] = pattern
    places = make_background(pictures).places_px
    inside = (np.abs(places - (320, 90)) < (30, 20)).all(axis=1)
    assert not inside.any()
    assert (np.abs(make_background(pictures[:1]).places_px - (320, 90)) < (40, 30)).all(1).any()


def test_a_view_that_stands_is_found_where_it_was() -> None:
    rgb, outline = ridden()
    findings = look(set_up(), rgb, outline)
    assert 15 <= np.count_nonzero(findings.expected) < len(findings.expected)
    assert np.isnan(findings.correlation[~findings.expected]).all()
    told = motion(findings)
    assert told is not None
    assert np.abs(told.shift_px).max() < 0.1
    assert abs(told.scale - 1) < 0.0005
    assert np.nanmedian(findings.sharpness) == pytest.approx(1.0, abs=0.02)


@pytest.mark.parametrize(
    ("right", "down", "scale", "roll"),
    [
        (2.0, 0.0, 1.0, 0.0),
        (0.5, -0.3, 1.0, 0.0),
        (-3.0, 1.0, 1.0, 0.0),
        (6.0, 6.0, 1.0, 0.0),
        (40.0, 0.0, 1.0, 0.0),
        (-30.0, 30.0, 1.0, 0.0),
        (0.0, 0.0, 1.01, 0.0),
        (0.0, 0.0, 0.97, 0.0),
        (0.0, 0.0, 1.1, 0.0),
        (0.0, 0.0, 1.0, 0.5),
        (10.0, 0.0, 1.03, -1.0),
    ],
)
def test_a_move_is_measured(right: float, down: float, scale: float, roll: float) -> None:
    rgb, outline = ridden()
    told = motion_in(warped(right, down, scale, roll)(rgb, 0.0), outline)
    assert told.shift_px == pytest.approx((right, down), abs=0.25)
    assert told.scale == pytest.approx(scale, abs=0.001)
    assert told.roll_deg == pytest.approx(roll, abs=0.06)


@pytest.mark.parametrize(
    "name", [name for name in HARMLESS if name not in ("half a pixel", "rocking")]
)
def test_light_noise_and_a_fan_move_nothing(name: str) -> None:
    rgb, outline = ridden()
    findings = look(set_up(), HARMLESS[name](rgb, 0.5), outline)
    told = motion(findings)
    assert told is not None
    assert np.abs(told.shift_px).max() < 0.3
    assert abs(told.scale - 1) < 0.001
    assert abs(told.roll_deg) < 0.06
    assert 0.9 < np.nanmedian(findings.sharpness[told.agree]) < 1.1


def test_a_dim_room_is_the_same_view() -> None:
    told = motion_in(clip_pictures("dark_kit_dim_room", 0.5, 15)[0][1], ridden()[1])
    assert np.abs(told.shift_px).max() < 0.1


def test_a_third_hidden_leaves_the_rest_where_it_was() -> None:
    told = motion_in(hidden(0.7, 1.0)(ridden()[0], 0.0), ridden()[1])
    assert np.abs(told.shift_px).max() < 0.1


def test_defocus_is_measured() -> None:
    findings = look(set_up(), blurred(1.5)(ridden()[0], 0.0), ridden()[1])
    assert np.nanmedian(findings.sharpness) < 0.6


def test_another_room_or_side_has_no_motion() -> None:
    other_side = clip_pictures("left_side_steady", 0.5, 15)[0][1]
    assert motion(look(set_up(), another_room()(empty()[0], 0.0))) is None
    assert motion(look(set_up(), other_side)) is None


def test_a_dark_lens_has_no_contrast_and_a_dim_room_has() -> None:
    dark = noisy(6)(lit(gain=0.0, offset=12)(empty()[0], 0.0), 0.0)
    assert look(set_up(), dark).contrast < CONTRAST_LEAST
    dim = clip_pictures("dark_kit_dim_room", 0.5, 15)[0][1]
    assert look(set_up(), dim).contrast > 5 * CONTRAST_LEAST


def test_shifts_of_large_pictures_are_in_their_own_px() -> None:
    resized = cv2.resize(empty()[0], (1920, 1440), interpolation=cv2.INTER_CUBIC)
    large = np.asarray(resized, np.uint8)
    background = make_background([large])
    assert background.patches.shape[1:] == (SIDE_PX, SIDE_PX)
    assert background.places_px.max() > 1000
    told = motion(look(background, warped(9.0, -6.0)(large, 0.0)))
    assert told is not None
    assert told.shift_px == pytest.approx((9.0, -6.0), abs=0.5)


def test_a_blank_wall_is_refused_with_advice() -> None:
    blank = noisy(4)(np.full((480, 640, 3), 150, np.uint8), 0.0)
    with pytest.raises(BadInput, match="corners of the still background") as caught:
        make_background([blank, noisy(4)(blank, 1.0)])
    assert "clear corners" in caught.value.advice


def test_pictures_must_be_of_one_size_and_the_backgrounds() -> None:
    with pytest.raises(ValueError, match="of one size"):
        make_background([])
    with pytest.raises(ValueError, match="of one size"):
        make_background([empty()[0], empty()[0][:200]])
    with pytest.raises(ValueError, match="size"):
        look(set_up(), empty()[0][:200])
