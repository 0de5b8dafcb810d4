"""Typed points and lengths give a view, and do not claim to know what they cannot."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from simulated_boards import FRONT_MM, LENS, OFFSETS_MM, REAR_MM, WHEELBASE_MM, camera_at

from posewatch.camera.typed_view import (
    LENGTH_SD_MM,
    YAW_PRIOR_SD_DEG,
    TypedBike,
    solve_typed,
)
from posewatch.core.bike_setup import SetupMethod, cautions, scale_mm_per_px
from posewatch.core.plane import BikeView, Lens, project_px
from posewatch.core.records import Side
from posewatch.errors import BadInput

SIDES = pytest.mark.parametrize("side", list(Side))
FINE = Lens(1920, 1440, 2580.0, 2580.0, 960.0, 720.0)
CRANK_MM = 172.5
REAR_TO_CRANK_MM = math.hypot(*REAR_MM)


def typed(
    lens: Lens,
    camera: BikeView,
    sd_px: float = 1.0,
    rear_to_crank: bool = False,
    random: np.random.Generator | None = None,
) -> TypedBike:
    """What a person types of a bike; with a random generator as wrong as persons are."""
    front_z, crank_z, rear_z = OFFSETS_MM
    points = np.array(
        (
            (*FRONT_MM, front_z),
            (*REAR_MM, rear_z),
            (0.0, 0.0, crank_z),
            (0.0, CRANK_MM, crank_z),
            (0.0, -CRANK_MM, crank_z),
        )
    )
    seen = project_px(lens, camera, points)
    off = np.zeros(2)
    if random is not None:
        seen = seen + random.normal(0.0, sd_px, seen.shape)
        off = random.normal(0.0, LENGTH_SD_MM, 2)
    chain = REAR_TO_CRANK_MM + off[1] if rear_to_crank else None
    return TypedBike(seen, WHEELBASE_MM + off[0], CRANK_MM, chain, sd_px)


@SIDES
def test_a_square_camera_is_found(side: Side) -> None:
    camera = camera_at(side, roll=3.0, up_mm=450.0)
    found = solve_typed(LENS, typed(LENS, camera))
    assert found.method is SetupMethod.TYPED
    assert found.view.side is side
    assert found.view.roll_deg == pytest.approx(3.0, abs=0.1)
    assert found.view.distance_mm == pytest.approx(3500.0, rel=0.005)
    assert found.scale_mm_per_px == pytest.approx(scale_mm_per_px(LENS, camera), rel=0.005)
    assert found.wheelbase_mm == pytest.approx(WHEELBASE_MM, abs=1.0)
    assert found.known_wheelbase_mm == WHEELBASE_MM


@SIDES
def test_without_the_rear_distance_it_says_that_the_yaw_is_not_known(side: Side) -> None:
    found = solve_typed(LENS, typed(LENS, camera_at(side, 9.0, up_mm=450.0)))
    # Little more than what was assumed before any point was typed.
    assert 5.0 < found.spread.yaw_deg <= YAW_PRIOR_SD_DEG
    (said,) = [line for line in cautions(LENS, found) if "only known to" in line]
    assert "add the distance from rear axle to crank axis" in said


@SIDES
@pytest.mark.parametrize("yaw", [-9.0, 0.0, 9.0])
def test_points_read_finely_with_the_rear_distance_give_the_yaw(side: Side, yaw: float) -> None:
    camera = camera_at(side, yaw, up_mm=450.0)
    found = solve_typed(FINE, typed(FINE, camera, sd_px=0.5, rear_to_crank=True))
    assert found.spread.yaw_deg < 3.0
    # The prior draws it towards square by the share that it weighs.
    assert found.view.yaw_deg == pytest.approx(yaw, abs=1.0)
    assert not [line for line in cautions(FINE, found) if "only known to" in line]


@pytest.mark.parametrize(
    ("lens", "sd_px", "rear_to_crank"),
    [(LENS, 1.0, True), (FINE, 0.33, False)],
)
def test_standard_deviations_are_honest(lens: Lens, sd_px: float, rear_to_crank: bool) -> None:
    """Cameras turned as the prior says, but in reach of the picture, points as wrong as told."""
    in_sd = []
    for seed in range(25):
        random = np.random.default_rng(seed)
        camera = camera_at(
            list(Side)[seed % 2], random.normal(0.0, 7.0), *random.normal(0, 1, 2), up_mm=450.0
        )
        found = solve_typed(lens, typed(lens, camera, sd_px, rear_to_crank, random))
        spread = found.spread
        in_sd.append(
            (
                (found.view.yaw_deg - camera.yaw_deg) / spread.yaw_deg,
                (found.scale_mm_per_px - scale_mm_per_px(lens, camera)) / spread.scale_mm_per_px,
                (found.view.roll_deg - camera.roll_deg) / spread.roll_deg,
                (found.view.distance_mm - camera.distance_mm) / spread.distance_mm,
            )
        )
    scatter = np.sqrt(np.mean(np.square(in_sd), axis=0))
    assert (scatter < 1.4).all()
    assert scatter[0] > 0.6


def test_a_bike_that_does_not_stand_level_is_no_roll() -> None:
    bike = typed(LENS, camera_at(Side.RIGHT, up_mm=450.0))
    raised = bike.points_px.copy()
    raised[0, 1] -= 40.0 * LENS.fx_px / (3500.0 - OFFSETS_MM[0])
    found = solve_typed(LENS, replace(bike, points_px=raised, front_axle_higher_mm=40.0))
    assert found.view.roll_deg == pytest.approx(0.0, abs=0.3)


def swap(bike: TypedBike, first: int, second: int) -> TypedBike:
    points = bike.points_px.copy()
    points[[first, second]] = points[[second, first]]
    return replace(bike, points_px=points)


def with_point(bike: TypedBike, number: int, x: float, y: float) -> TypedBike:
    points = bike.points_px.copy()
    points[number] = x, y
    return replace(bike, points_px=points)


GOOD = typed(LENS, camera_at(Side.RIGHT, up_mm=450.0))


@pytest.mark.parametrize(
    ("bike", "said"),
    [
        (with_point(GOOD, 0, 700.0, 300.0), "front axle at 700,300 is outside the picture"),
        (with_point(GOOD, 4, math.nan, 300.0), "pedal at the bottom at nan,300 is outside"),
        (replace(GOOD, wheelbase_mm=100.1), "A wheelbase of 100.1 cannot be"),
        (replace(GOOD, crank_length_mm=1725.0), "A crank length of 1725 cannot be"),
        (replace(GOOD, rear_to_crank_mm=41.0), "A rear-axle-to-crank distance of 41 cannot be"),
        (replace(GOOD, point_sd_px=0.0), "A point SD (px) of 0 cannot be"),
        (replace(GOOD, crank_length_mm=72.0), "no bike of these lengths looks like that"),
        (swap(GOOD, 0, 3), "no bike of these lengths looks like that"),
        (swap(GOOD, 3, 4), "do not fit each other"),
        (with_point(GOOD, 2, 250.0, 250.0), "do not fit each other"),
        (replace(GOOD, rear_to_crank_mm=700.0), "do not fit each other"),
    ],
)
def test_what_no_bike_looks_like_is_refused(bike: TypedBike, said: str) -> None:
    with pytest.raises(BadInput) as caught:
        solve_typed(LENS, bike)
    assert said in caught.value.what
    assert caught.value.advice
