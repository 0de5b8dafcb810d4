"""Which side is near, and what can be looked at."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from calibrated_cameras import camera
from linkage_rider import HEIGHT_PX, WIDTH_PX, Pose, joints_m, to_frame

from posewatch.core import landmarks
from posewatch.core.angles import body_angles
from posewatch.core.doubts import Doubt
from posewatch.core.landmarks import (
    ANKLE,
    ELBOW,
    HIP,
    KNEE,
    NOSE,
    SHOULDER,
    WRIST,
    FacingState,
    SidePoints,
)
from posewatch.core.plane import plane_map
from posewatch.core.records import FloatArray, Frame, Side


def frame(pose: Pose, facing: int = 1) -> Frame:
    return to_frame(0, pose, 0.0, np.random.default_rng(0), facing)


def look_at(shown: Frame, facing: int = 1) -> SidePoints:
    return landmarks.side_points(shown, facing, WIDTH_PX, HEIGHT_PX, None)


def near_px(pose: Pose, facing: int = 1) -> FloatArray:
    return np.asarray(look_at(frame(pose, facing), facing).points[0])


def moved_to(landmark: int, place: tuple[float, float]) -> Frame:
    """Return the fitted rider's picture with one landmark elsewhere."""
    shown = frame(Pose(0.0))
    points = shown.points_px.copy()
    points[landmark] = place
    return replace(shown, points_px=points)


# --- which side ---------------------------------------------------------------------------------


def test_landmark_numbers() -> None:
    # The pose model's published list: 11/12 shoulders, 13/14 elbows, 15/16 wrists, 23/24 hips,
    # 25/26 knees, 27/28 ankles, 29/30 heels, 31/32 foot index; odd = left.
    assert landmarks.LANDMARKS[Side.LEFT].tolist() == [11, 13, 15, 23, 25, 27, 29, 31]
    assert landmarks.LANDMARKS[Side.RIGHT].tolist() == [12, 14, 16, 24, 26, 28, 30, 32]


@pytest.mark.parametrize("facing", [1, -1])
def test_facing_is_known_after_fifteen_pictures(facing: int) -> None:
    state = FacingState()
    for count in range(1, 16):
        state = landmarks.vote_facing(state, frame(Pose(20.0 * count), facing))
        assert state.facing == (facing if count == 15 else 0)
    assert landmarks.near_side(facing) is (Side.RIGHT if facing > 0 else Side.LEFT)


def test_a_few_mirrored_pictures_do_not_turn_the_rider_round() -> None:
    state = FacingState()
    for _ in range(60):
        state = landmarks.vote_facing(state, frame(Pose(0.0)))
    for _ in range(40):
        state = landmarks.vote_facing(state, frame(Pose(0.0), -1))
        assert state.facing == 1
    for _ in range(40):
        state = landmarks.vote_facing(state, frame(Pose(0.0), -1))
    assert state.facing == -1


def test_someone_upright_or_nobody_has_no_facing() -> None:
    upright = frame(Pose(0.0, torso_deg=88.0))
    empty = frame(Pose(0.0, seen=False))
    hidden = frame(Pose(0.0, hidden=("shoulder",)))
    for useless in (upright, empty, hidden):
        assert landmarks.vote_facing(FacingState(), useless) == FacingState()


def test_facing_left_gives_the_same_body_mirrored() -> None:
    right, left = near_px(Pose(75.0)), near_px(Pose(75.0), -1)
    assert left - left[HIP] == pytest.approx(right - right[HIP], abs=0.13)


def test_angles_of_the_canonical_picture_are_the_rider_s() -> None:
    # The linkage at 90 degrees: flexion 68.29, hip 73.13, trunk 42 (project arithmetic); landmarks
    # are rounded to sixteenths of a pixel.
    points = near_px(Pose(90.0), -1)
    angles = body_angles(points[SHOULDER], points[HIP], points[KNEE], points[ANKLE])
    assert angles.knee_flexion_deg == pytest.approx(68.29, abs=0.1)
    assert angles.hip_included_deg == pytest.approx(73.13, abs=0.1)
    assert angles.torso_deg == pytest.approx(42.0, abs=0.1)


# --- what can be looked at ------------------------------------------------------------------------


@pytest.mark.parametrize("field", ["visibility", "presence"])
def test_a_joint_must_be_visible_and_present(field: str) -> None:
    shown = frame(Pose(0.0))
    level = getattr(shown, field).copy()
    level[26] = 0.4
    doubts = look_at(replace(shown, **{field: level})).doubts
    assert doubts[0, KNEE] == Doubt.NOT_VISIBLE
    assert (doubts == Doubt.NONE).sum() == 15


OUTSIDE = [(-1.0, 50.0), (50.0, -1.0), (640.0, 50.0), (50.0, 480.0)]


@pytest.mark.parametrize("place", OUTSIDE)
def test_a_body_that_the_picture_s_edge_cuts_off_is_not_looked_at(
    place: tuple[float, float],
) -> None:
    # 28 is the right ankle: it is outside; what is made of the others shifts with it.
    doubts = look_at(moved_to(28, place)).doubts
    assert doubts[0, ANKLE] == Doubt.OFF_PICTURE
    assert (doubts == Doubt.CUT_OFF).sum() == 15


@pytest.mark.parametrize("place", [*OUTSIDE, (float("nan"), 50.0)])
def test_a_head_outside_the_picture_cuts_the_body_off(place: tuple[float, float]) -> None:
    doubts = look_at(moved_to(NOSE, place)).doubts
    assert (doubts == Doubt.CUT_OFF).all()


def test_the_picture_s_last_row_and_column_are_inside_it() -> None:
    for place in ((0.0, 0.0), (639.9, 479.9)):
        assert (look_at(moved_to(NOSE, place)).doubts == Doubt.NONE).all()


def test_half_a_body_in_the_picture_has_no_joint_that_can_be_looked_at() -> None:
    # The camera has been turned: 250 px of the rider's front are gone.
    shown = frame(Pose(0.0))
    half = replace(shown, points_px=shown.points_px + (250.0, 0.0))
    doubts = look_at(half).doubts[0]
    assert set(doubts.tolist()) == {Doubt.OFF_PICTURE, Doubt.CUT_OFF}
    assert [doubts[j] for j in (SHOULDER, ELBOW, WRIST)].count(Doubt.OFF_PICTURE) >= 1
    assert doubts[HIP] == Doubt.CUT_OFF


def test_a_far_joint_outside_the_picture_is_nothing_to_the_near_side() -> None:
    doubts = look_at(moved_to(27, (-1.0, 50.0))).doubts
    assert (doubts[0] == Doubt.NONE).all()
    assert doubts[1, ANKLE] == Doubt.OFF_PICTURE


def test_a_body_that_is_seen_from_the_front_or_back_is_not_looked_at() -> None:
    # The trunk is 128 px long; the shoulders are 0.33 and 0.37 of it apart.
    for apart_px, doubt in ((42.0, Doubt.NONE), (47.0, Doubt.AT_AN_ANGLE)):
        for way in (1, -1):
            shown = frame(Pose(0.0))
            points = shown.points_px.copy()
            points[11:13, 0] += way * apart_px * np.array((0.5, -0.5))
            assert (look_at(replace(shown, points_px=points)).doubts == doubt).all()


def test_nobody_is_not_looked_at() -> None:
    assert (look_at(frame(Pose(0.0, seen=False))).doubts == Doubt.NOT_VISIBLE).all()


# --- through a calibrated camera ------------------------------------------------------------------


def seen_by(side: Side, facing: int) -> SidePoints:
    profile = camera(side, 6.0, 2.0, 1.0)
    shown = to_frame(0, Pose(90.0), 0.0, np.random.default_rng(0), camera=profile)
    if (facing > 0) is not (side is Side.RIGHT):  # the rider sits the other way round
        shown = replace(shown, points_px=(WIDTH_PX, 0.0) + shown.points_px * (-1.0, 1.0))
    return landmarks.side_points(shown, facing, WIDTH_PX, HEIGHT_PX, plane_map(profile))


@pytest.mark.parametrize(("side", "facing"), [(Side.RIGHT, 1), (Side.LEFT, -1)])
def test_points_are_millimetres_from_the_crank_axis(side: Side, facing: int) -> None:
    points = seen_by(side, facing).points[0]
    joints = joints_m(Pose(90.0))
    # A landmark is kept to a sixteenth of a pixel of 4 mm.
    for joint, name in ((SHOULDER, "shoulder"), (HIP, "hip"), (KNEE, "knee"), (ANKLE, "ankle")):
        assert points[joint] == pytest.approx(1000.0 * joints[name], abs=0.3)


@pytest.mark.parametrize(("side", "facing"), [(Side.RIGHT, -1), (Side.LEFT, 1)])
def test_whoever_faces_against_the_bike_s_direction_is_nobody(side: Side, facing: int) -> None:
    assert (seen_by(side, facing).doubts == Doubt.OTHER_WAY).all()
