"""Boards at three places of a bike give back the camera that saw them, and how surely."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from simulated_boards import (
    FRONT_MM,
    LENS,
    REAR_MM,
    WHEELBASE_MM,
    HeldAtBike,
    at_axles,
    averaged,
    by_hand,
    camera_at,
)

from posewatch.camera.bike_view import (
    BoardView,
    HeldHow,
    flat_scale_px_per_mm,
    solve_boards,
)
from posewatch.core.bike_setup import BikeSetup, SetupMethod, cautions, scale_mm_per_px
from posewatch.core.boards import board_named
from posewatch.core.plane import BikeView, Lens
from posewatch.core.records import FloatArray, Side
from posewatch.errors import BadInput

SIDES = pytest.mark.parametrize("side", list(Side))
SMALL, LARGE = board_named("bike-a4"), board_named("bike-a3")


def solved(
    camera: BikeView,
    held: list[HeldAtBike],
    how: HeldHow | None = None,
    random: np.random.Generator | None = None,
    lens: Lens = LENS,
) -> BikeSetup:
    front, crank, rear = (averaged(LARGE, one, camera, random, lens) for one in held)
    return solve_boards(lens, front, crank, rear, how or HeldHow())


def angles(view: BikeView) -> tuple[float, float, float]:
    return view.yaw_deg, view.pitch_deg, view.roll_deg


@SIDES
@pytest.mark.parametrize(("yaw", "pitch", "roll"), [(0, 0, 0), (7, -2, 3), (-15, 3, -5)])
def test_exact_corners_give_the_exact_camera(
    side: Side, yaw: float, pitch: float, roll: float
) -> None:
    camera = camera_at(side, yaw, pitch, roll)
    found = solved(camera, at_axles(side, 4.0, -3.0, 90.0))
    assert found.method is SetupMethod.BOARDS
    assert found.view.side is side
    assert angles(found.view) == pytest.approx((yaw, pitch, roll), abs=0.01)
    assert found.view.position_mm == pytest.approx(camera.position_mm, abs=1.0)
    assert found.front_axle_mm == pytest.approx(FRONT_MM, abs=0.1)
    assert found.rear_axle_mm == pytest.approx(REAR_MM, abs=0.1)
    assert found.wheelbase_mm == pytest.approx(WHEELBASE_MM, abs=0.1)
    assert found.scale_mm_per_px == pytest.approx(scale_mm_per_px(LENS, camera), rel=1e-4)
    assert found.rms_px < 0.002


@pytest.mark.parametrize("yaw", [-25.0, 15.0, 25.0])
def test_a_camera_far_from_square_is_found_from_any_boards(yaw: float) -> None:
    """A fit that begins square must not get stuck on its way."""
    for seed in range(3):
        random = np.random.default_rng(seed)
        camera = camera_at(Side.LEFT, yaw, *random.uniform(-2, 2, 2))
        found = solved(camera, by_hand(Side.LEFT, random), random=random)
        assert abs(found.view.yaw_deg - yaw) < 4.0 * found.spread.yaw_deg < 2.5


def test_a_bent_lens_is_taken_into_account() -> None:
    lens = replace(LENS, cx_px=331.0, distortion=(-0.2, 0.05, 0.001, -0.001, 0.0))
    camera = camera_at(Side.RIGHT, 5.0, 1.0, 1.0)
    found = solved(camera, at_axles(Side.RIGHT), lens=lens)
    assert angles(found.view) == pytest.approx((5.0, 1.0, 1.0), abs=0.01)


def errors(
    board_name: str, yaw: float, n: int, hand: bool, lens: Lens = LENS
) -> tuple[FloatArray, FloatArray]:
    """(n, 2) errors of scale (share) and yaw (degrees), sides in turn, and these in SDs."""
    board = board_named(board_name)
    off, in_sd = [], []
    for seed in range(n):
        random = np.random.default_rng(seed)
        side = list(Side)[seed % 2]
        camera = camera_at(side, yaw, *random.uniform(-2, 2, 2))
        held = by_hand(side, random) if hand else at_axles(side, *random.uniform(-10, 10, 3))
        views = [averaged(board, one, camera, random, lens) for one in held]
        found = solve_boards(lens, *views, HeldHow())
        true = scale_mm_per_px(lens, camera)
        scale, yaw_off = found.scale_mm_per_px - true, found.view.yaw_deg - yaw
        off.append((scale / true, yaw_off))
        in_sd.append((scale / found.spread.scale_mm_per_px, yaw_off / found.spread.yaw_deg))
    return np.array(off), np.array(in_sd)


@pytest.mark.parametrize("yaw", [0.0, 15.0])
def test_the_large_board_gives_scale_and_yaw(yaw: float) -> None:
    """At 4 mm a pixel with 0.15 px noise, 60 pictures and 0.05 px common to all of them."""
    off, _ = errors("bike-a3", yaw, 10, hand=False)
    assert np.abs(off[:, 0]).max() < 0.005
    assert np.sqrt(np.mean(off[:, 1] ** 2)) < 0.45
    assert np.mean(np.abs(off[:, 1]) < 0.5) >= 0.75


def test_twice_the_pixels_give_the_yaw_to_half_a_degree() -> None:
    double = Lens(1280, 960, 1720.0, 1720.0, 640.0, 480.0)
    off, _ = errors("bike-a3", 10.0, 6, hand=False, lens=double)
    assert np.abs(off[:, 1]).max() < 0.5
    assert np.abs(off[:, 0]).max() < 0.005


def test_standard_deviations_are_honest_for_boards_held_by_hand() -> None:
    """Errors in units of the told SD scatter by one: neither boasting nor timid."""
    _, in_sd = errors("bike-a3", 8.0, 20, hand=True)
    scatter = np.sqrt(np.mean(in_sd**2, axis=0))
    assert (scatter > 0.6).all()
    assert (scatter < 1.4).all()


def test_a_small_board_says_that_it_is_less_sure() -> None:
    camera = camera_at(Side.RIGHT, 5.0)
    random = np.random.default_rng(1)
    spreads = []
    for board in (SMALL, LARGE):
        views = [averaged(board, one, camera, random) for one in at_axles(Side.RIGHT)]
        spreads.append(solve_boards(LENS, *views, HeldHow()).spread)
    assert spreads[0].yaw_deg > 1.2 * spreads[1].yaw_deg


@SIDES
def test_a_bike_that_does_not_stand_level_is_told(side: Side) -> None:
    """The front axle 40 mm up tilts the line of the axles by 2.29 degrees."""
    camera = camera_at(side)
    held = at_axles(side)
    held[0] = replace(held[0], centre_mm=(FRONT_MM[0], FRONT_MM[1] + 40.0))
    blind, told = solved(camera, held), solved(camera, held, HeldHow(front_axle_higher_mm=40.0))
    lean = math.degrees(math.atan2(40.0, WHEELBASE_MM))
    assert abs(blind.view.roll_deg) == pytest.approx(lean, abs=0.02)
    assert told.view.roll_deg == pytest.approx(0.0, abs=0.02)
    assert told.front_axle_mm[1] - told.rear_axle_mm[1] == pytest.approx(40.0, abs=0.5)


def test_boards_held_with_a_spirit_level_tell_what_is_level() -> None:
    camera = camera_at(Side.LEFT, 3.0, roll=4.0)
    held = at_axles(Side.LEFT)
    held[0] = replace(held[0], centre_mm=(FRONT_MM[0], FRONT_MM[1] + 40.0))
    found = solved(camera, held, HeldHow(upright=True))
    assert found.view.roll_deg == pytest.approx(4.0, abs=0.02)
    assert found.front_axle_mm[1] - found.rear_axle_mm[1] == pytest.approx(40.0, abs=0.5)


@pytest.mark.parametrize("turns", [(0.0, 0.0, 9.0), (90.0, 90.0, 90.0)])
def test_boards_said_to_be_level_that_lean_are_refused(turns: tuple[float, ...]) -> None:
    camera = camera_at(Side.RIGHT)
    with pytest.raises(BadInput, match=r"leans \+9|leans \+90") as caught:
        solved(camera, at_axles(Side.RIGHT, *turns), HeldHow(upright=True))
    assert "spirit level" in caught.value.advice


def test_the_wheelbase_is_a_check() -> None:
    held, camera = at_axles(Side.RIGHT), camera_at(Side.RIGHT)
    good = solved(camera, held, HeldHow(known_wheelbase_mm=WHEELBASE_MM + 5))
    assert cautions(LENS, good) == ()
    (said,) = cautions(LENS, solved(camera, held, HeldHow(known_wheelbase_mm=980.0)))
    assert "wheelbase came out as 1001 mm, not 980 (+2.1 %)" in said


def test_places_given_in_another_order_are_told() -> None:
    front, crank, rear = at_axles(Side.RIGHT)
    found = solved(camera_at(Side.RIGHT), [rear, crank, front])
    assert any("mixed up" in line for line in cautions(LENS, found))


def test_the_same_place_twice_is_refused() -> None:
    front, crank, _ = at_axles(Side.RIGHT)
    with pytest.raises(BadInput, match="only 0 mm apart"):
        solved(camera_at(Side.RIGHT), [front, crank, front])


def test_a_board_that_is_mostly_hidden_is_refused() -> None:
    camera = camera_at(Side.RIGHT)
    views = [averaged(LARGE, one, camera) for one in at_axles(Side.RIGHT)]
    views[1] = BoardView(views[1].points_mm[:3], views[1].points_px[:3], 0.02)
    with pytest.raises(BadInput, match="Only 3 corners of the board at the crank"):
        solve_boards(LENS, *views, HeldHow())


def test_corners_that_are_no_board_are_refused() -> None:
    camera = camera_at(Side.RIGHT)
    random = np.random.default_rng(2)
    views = [averaged(LARGE, one, camera) for one in at_axles(Side.RIGHT)]
    views[2] = replace(views[2], points_px=views[2].points_px + random.normal(0, 8, (6, 2)))
    with pytest.raises(BadInput, match="do not fit one view of a bike") as caught:
        solve_boards(LENS, *views, HeldHow())
    assert "printed bar" in caught.value.advice


def test_size_and_turn_of_a_flat_board_are_read_by_least_squares() -> None:
    points = LARGE.corners_mm()
    seen = points * (0.25, -0.25) + (300.0, 200.0)
    assert flat_scale_px_per_mm(points, seen) == pytest.approx(0.25)
