"""Spots of a colour in a part of a picture."""

from __future__ import annotations

import math

import numpy as np
import pytest

from posewatch.camera.dot_colour import parse_colour
from posewatch.camera.dot_finding import Window, find_spots, window
from posewatch.core.records import FloatArray

RED, GROUND = (210, 40, 120), (120, 130, 125)
COLOUR = parse_colour("#d22878")


def disc(x: float, y: float, diameter: float, size: int = 40) -> FloatArray:
    """Draw one disc by sampling: (0, 0) is the outer corner of the top left pixel."""
    fine = (np.arange(16 * size) + 0.5) / 16
    inside = (fine[None, :] - x) ** 2 + (fine[:, None] - y) ** 2 < (diameter / 2) ** 2
    share = inside.reshape(size, 16, size, 16).mean(axis=(1, 3))[..., None]
    return share * RED + (1 - share) * np.array(GROUND)


def as_picture(values: FloatArray) -> np.ndarray:
    return np.clip(np.rint(values), 0, 255).astype(np.uint8)


@pytest.mark.parametrize("x", [20.0, 20.25, 20.5, 20.9])
@pytest.mark.parametrize("diameter", [5.0, 6.5, 13.0])
def test_image_px_count_from_the_outer_corner(x: float, diameter: float) -> None:
    area = math.pi / 4 * diameter**2
    picture = as_picture(disc(x, 18.3, diameter))
    [(spot, lab)] = find_spots(picture, Window(0, 0, 40, 40), COLOUR, area)
    assert (spot.x_px, spot.y_px) == pytest.approx((x, 18.3), abs=0.05)
    assert spot.area_px == pytest.approx(area, rel=0.12)
    # Second moments of a disc: r^2 / 4; pixels and the colour's unevenness add a little.
    assert (spot.xx, spot.yy) == pytest.approx((diameter**2 / 16,) * 2, rel=0.2)
    assert spot.xy == pytest.approx(0.0, abs=0.1)
    assert lab == pytest.approx(COLOUR, abs=3.0)


def test_a_part_of_a_picture_gives_places_in_the_whole() -> None:
    picture = as_picture(disc(20.4, 18.3, 6.0))
    [(whole, _)] = find_spots(picture, Window(0, 0, 40, 40), COLOUR, 28.0)
    [(part, _)] = find_spots(picture, Window(7, 5, 36, 33), COLOUR, 28.0)
    assert (part.x_px, part.y_px) == pytest.approx((whole.x_px, whole.y_px), abs=0.02)


def test_spots_cut_off_or_of_another_size_or_colour_are_left_out() -> None:
    picture = as_picture(disc(20.4, 18.3, 6.0))
    assert find_spots(picture, Window(20, 0, 40, 40), COLOUR, 28.0) == []
    assert find_spots(picture, Window(0, 0, 40, 40), COLOUR, 400.0) == []
    assert find_spots(picture, Window(0, 0, 40, 40), parse_colour("#30a040"), 28.0) == []


def test_bare_ground_has_no_spots() -> None:
    rng = np.random.default_rng(0)
    picture = as_picture(np.array(GROUND) + rng.normal(0, 4, (60, 60, 3)))
    assert find_spots(picture, Window(0, 0, 60, 60), COLOUR, 28.0) == []


def test_windows_stay_inside_the_picture() -> None:
    picture = np.zeros((48, 64, 3), np.uint8)
    assert window(picture, -5.0, 3.2, 20.1, 90.0) == Window(0, 3, 21, 48)
    assert window(picture, 64.0, 0.0, 80.0, 10.0) is None
    assert window(picture, 0.0, -20.0, 10.0, -1.0) is None
