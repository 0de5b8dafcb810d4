"""Joint angles against published vectors, invariances and input without a value."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from posewatch.core.angles import (
    body_angles,
    circular_mean_deg,
    direction_deg,
    included_angle_deg,
    knee_flexion_deg,
)
from posewatch.core.records import FloatArray


def at(*place: float) -> FloatArray:
    return np.array(place)


# The project's reference vector, computed from the definitions (tolerance 0.01).
SHOULDER, HIP, KNEE, ANKLE = at(0.42, 0.36), at(0, 0), at(0.30, -0.32), at(0.10, -0.70)
TORSO_DEG, FLEXION_DEG, HIP_DEG = 40.601, 70.911, 87.449


def test_a_3_4_5_triangle() -> None:
    # Elementary geometry: A(0,3) B(0,0) C(4,0).
    a, b, c = at(0, 3), at(0, 0), at(4, 0)
    assert included_angle_deg(a, b, c) == pytest.approx(90.0, abs=0.01)
    assert included_angle_deg(a, c, b) == pytest.approx(36.870, abs=0.01)
    assert included_angle_deg(b, a, c) == pytest.approx(53.130, abs=0.01)


def test_the_reference_vector() -> None:
    assert included_angle_deg(HIP, KNEE, ANKLE) == pytest.approx(109.089, abs=0.01)
    angles = body_angles(SHOULDER, HIP, KNEE, ANKLE)
    assert angles.knee_flexion_deg == pytest.approx(FLEXION_DEG, abs=0.01)
    assert angles.hip_included_deg == pytest.approx(HIP_DEG, abs=0.01)
    assert angles.torso_deg == pytest.approx(TORSO_DEG, abs=0.01)


@pytest.mark.parametrize(
    ("hip", "knee", "ankle", "thigh_deg", "shank_deg", "flexion_deg"),
    [
        # Winter, Biomechanics and Motor Control of Human Movement, table A.1, frames 30 and 70
        # (coordinates in cm read there; angles computed; segments distal to proximal).
        ((106.78, 79.60), (116.96, 50.46), (127.02, 9.74), 109.26, 103.88, 180.0 - 174.62),
        ((185.67, 78.83), (181.73, 47.53), (149.53, 21.82), 82.83, 38.61, 44.22),
    ],
)
def test_walking_data_of_a_textbook(
    hip: tuple[float, float],
    knee: tuple[float, float],
    ankle: tuple[float, float],
    thigh_deg: float,
    shank_deg: float,
    flexion_deg: float,
) -> None:
    assert direction_deg(at(*knee), at(*hip)) == pytest.approx(thigh_deg, abs=0.01)
    assert direction_deg(at(*ankle), at(*knee)) == pytest.approx(shank_deg, abs=0.01)
    flexion = knee_flexion_deg(at(*hip), at(*knee), at(*ankle))
    assert flexion == pytest.approx(flexion_deg, abs=0.01)


coordinate = st.floats(-2.0, 2.0)
shift = st.tuples(st.floats(-500, 500), st.floats(-500, 500))


@settings(max_examples=60, derandomize=True, deadline=None)
@given(shift, st.floats(0.1, 300.0), st.booleans(), st.booleans(), st.floats(-170, 170))
def test_joint_angles_do_not_depend_on_where_how_large_or_which_way_the_picture_is(
    by: tuple[float, float], scale: float, mirrored: bool, upside_down: bool, turned_deg: float
) -> None:
    body = np.array((SHOULDER, HIP, KNEE, ANKLE))
    turn = np.radians(turned_deg)
    rotation = np.array(((np.cos(turn), -np.sin(turn)), (np.sin(turn), np.cos(turn))))
    moved = body @ rotation.T * scale + by
    moved = moved * (-1.0 if mirrored else 1.0, -1.0 if upside_down else 1.0)
    angles = body_angles(*moved)
    assert angles.knee_flexion_deg == pytest.approx(FLEXION_DEG, abs=0.01)
    assert angles.hip_included_deg == pytest.approx(HIP_DEG, abs=0.01)
    if not mirrored and not upside_down:
        off = (angles.torso_deg - TORSO_DEG - turned_deg + 180.0) % 360.0 - 180.0
        assert off == pytest.approx(0.0, abs=0.01)


@settings(max_examples=60, derandomize=True, deadline=None)
@given(st.tuples(*[st.tuples(coordinate, coordinate)] * 3))
def test_included_angles_agree_with_the_scalar_product(
    points: tuple[tuple[float, float], tuple[float, float], tuple[float, float]],
) -> None:
    a, b, c = (at(*p) for p in points)
    one, two = a - b, c - b
    lengths = np.hypot(*one) * np.hypot(*two)
    angle = included_angle_deg(a, b, c)
    if lengths < 1e-6:
        return
    cosine = np.clip(one @ two / lengths, -1.0, 1.0)
    assert np.cos(np.radians(angle)) == pytest.approx(cosine, abs=1e-6)
    assert 0.0 <= angle <= 180.0


@pytest.mark.parametrize("joint", range(3))
def test_a_joint_that_is_not_there_leaves_no_value(joint: int) -> None:
    leg = [HIP, KNEE, ANKLE]
    leg[joint] = at(np.nan, np.nan)
    assert np.isnan(knee_flexion_deg(*leg))


def test_one_missing_coordinate_is_enough_to_leave_no_value() -> None:
    assert np.isnan(direction_deg(HIP, at(0.4, np.nan)))
    assert np.isnan(included_angle_deg(at(np.nan, 0.3), HIP, KNEE))


def test_points_that_coincide_leave_no_value_rather_than_0_or_180() -> None:
    assert np.isnan(knee_flexion_deg(HIP, HIP, ANKLE))
    assert np.isnan(knee_flexion_deg(HIP, KNEE, KNEE))
    assert np.isnan(direction_deg(KNEE, KNEE))


def test_many_bodies_at_once_give_the_same_as_one_by_one() -> None:
    stack = np.random.default_rng(1).normal(size=(4, 7, 2))
    together = body_angles(*stack)
    for row in range(7):
        alone = body_angles(*stack[:, row])
        assert [a[row] for a in together] == pytest.approx([float(a) for a in alone])


def test_circular_mean() -> None:
    # Project arithmetic: 350, 10, 20 lie around 6.705, resultant length 0.97645 (tolerance 1e-3);
    # their plain mean, 126.67, points backwards.
    mean_deg, length = circular_mean_deg(at(350.0, 10.0, 20.0))
    assert mean_deg == pytest.approx(6.705, abs=1e-3)
    assert length == pytest.approx(0.97645, abs=1e-3)


def test_opposite_directions_have_no_common_one() -> None:
    assert circular_mean_deg(at(0.0, 180.0))[1] == pytest.approx(0.0, abs=1e-12)
