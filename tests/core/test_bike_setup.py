"""What is said of a view, with the errors of published formulas, and when."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from posewatch.core.bike_setup import (
    BikeSetup,
    SetupMethod,
    SetupSpread,
    cautions,
    parallax_deg,
    parallax_mm,
    scale_mm_per_px,
)
from posewatch.core.plane import Lens, view_from_angles
from posewatch.core.records import Side

LENS = Lens(640, 480, 860.0, 860.0, 320.0, 240.0)
SURE = SetupSpread(0.004, 0.3, 0.8, 0.2, 8.0)


def setup(yaw: float = 0.0, distance: float = 3500.0, side: Side = Side.RIGHT) -> BikeSetup:
    x = 50.0 - distance * np.sin(np.radians(yaw))
    view = view_from_angles(side, (float(x), 500.0, distance), yaw)
    front, rear = (600.0, 70.0), (-410.0, 70.0)
    return BikeSetup(SetupMethod.BOARDS, view, front, rear, 4.07, SURE, 0.05, 1010.0)


# Computed: x D / (D - z) - x for x = 400, z = 150 mm, and as the turn of a 440 mm segment.
@pytest.mark.parametrize(
    ("distance_m", "millimetres", "degrees"),
    [(2, 32.4, 4.22), (3, 21.1, 2.74), (4, 15.6, 2.03), (5, 12.4, 1.61), (6, 10.3, 1.34)],
)
def test_parallax(distance_m: float, millimetres: float, degrees: float) -> None:
    assert parallax_mm(400, 150, 1000 * distance_m) == pytest.approx(millimetres, abs=0.06)
    assert parallax_deg(400, 150, 1000 * distance_m, 440) == pytest.approx(degrees, abs=0.01)


def test_a_good_view_needs_no_words() -> None:
    assert cautions(LENS, setup()) == ()
    assert cautions(LENS, setup(-5.0, 2500.0, Side.LEFT)) == ()
    assert not setup(-7.9).refuses_new_targets


@pytest.mark.parametrize("side", list(Side))
@pytest.mark.parametrize(
    ("yaw", "words"),
    [
        (6.0, "looks 6.0 degrees forwards of square"),
        (-6.0, "looks 6.0 degrees backwards of square"),
        # tan seen = tan true / cos yaw gives 0.44 degrees for 45 at 10.
        (10.0, "would read 0.44 degrees wrong"),
    ],
)
def test_a_turned_camera_is_told_with_its_error(side: Side, yaw: float, words: str) -> None:
    (said,) = cautions(LENS, setup(yaw, side=side))
    assert words in said
    assert "turn the camera" in said


@pytest.mark.parametrize(("yaw", "refused"), [(8.0, False), (8.1, True), (-8.1, True)])
def test_only_far_from_square_new_targets_are_refused(yaw: float, refused: bool) -> None:
    view = setup(yaw)
    assert view.refuses_new_targets is refused
    assert ("no new target" in cautions(LENS, view)[0]) is refused


def test_a_near_camera_is_told_with_its_parallax() -> None:
    (said,) = cautions(LENS, setup(distance=2000.0))
    assert "2.00 m from the bike" in said
    # 400 x 2000 / 1850 is 32.4 mm too far, on 440 mm 4.2 degrees; 30 mm at 1850 mm are 0.9 degrees.
    assert "by 4.2 degrees" in said
    assert "by 0.9 degrees still" in said


def test_doubt_about_the_yaw_is_told_with_what_to_add() -> None:
    unsure = replace(setup(), method=SetupMethod.TYPED, spread=replace(SURE, yaw_deg=8.0))
    (said,) = cautions(LENS, unsure)
    assert "only known to 8.0 degrees" in said
    assert "rear axle to crank" in said
    assert "boards" in said
    assert cautions(LENS, replace(unsure, spread=replace(SURE, yaw_deg=3.0))) == ()


@pytest.mark.parametrize(("known", "told"), [(1019.0, False), (1021.0, True), (998.0, True)])
def test_a_wheelbase_off_by_a_hundredth_is_told(known: float, told: bool) -> None:
    said = cautions(LENS, replace(setup(), known_wheelbase_mm=known))
    assert [f"came out as 1010 mm, not {known:.0f}" in line for line in said] == [True] * told


@pytest.mark.parametrize(
    ("front", "rear"),
    [
        ((410.0, 70.0), (-600.0, 70.0)),
        ((1410.0, 70.0), (400.0, 70.0)),
        ((600.0, 400.0), (-410.0, 400.0)),
    ],
)
def test_places_in_another_order_are_told(
    front: tuple[float, float], rear: tuple[float, float]
) -> None:
    mixed = replace(setup(), front_axle_mm=front, rear_axle_mm=rear, known_wheelbase_mm=None)
    (said,) = cautions(LENS, mixed)
    assert "mixed up" in said


def test_a_small_bike_in_the_picture_is_told() -> None:
    far = setup(distance=5000.0)
    # (1010 + 2 x 340) mm at 5000 mm through 860 px is 290.7 px of 640.
    assert far.bike_share(LENS) == pytest.approx(290.68 / 640, abs=1e-4)
    (said,) = cautions(LENS, far)
    assert "takes 45 % of the picture's width" in said


@pytest.mark.parametrize("side", list(Side))
def test_scale_is_distance_over_focal_length_and_grows_with_the_turn(side: Side) -> None:
    square = setup(side=side).view
    assert scale_mm_per_px(LENS, square) == pytest.approx(3500 / 860, rel=1e-6)
    turned = view_from_angles(side, (0.0, 0.0, 3500.0), 20.0)
    forward = np.array((3500.0 * np.tan(np.radians(20.0)), 0.0))
    # Along the lens axis the range is D / cos, across it one direction is drawn out by 1 / cos.
    expected = 3500 / 860 / np.cos(np.radians(20.0)) ** 1.5
    assert scale_mm_per_px(LENS, turned, forward) == pytest.approx(expected, rel=1e-5)


def test_the_wheelbase_is_from_axle_to_axle() -> None:
    raised = replace(setup(), front_axle_mm=(600.0, 100.0), rear_axle_mm=(-400.0, 70.0))
    assert raised.wheelbase_mm == pytest.approx((1000**2 + 30**2) ** 0.5)
