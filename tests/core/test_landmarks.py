"""Which side is near, and which joints are believed."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from linkage_rider import HEIGHT_PX, WIDTH_PX, Pose, joints_m, to_frame

from posewatch.core import landmarks
from posewatch.core.angles import body_angles, knee_flexion_deg
from posewatch.core.envelope import Segments
from posewatch.core.landmarks import (
    ANKLE,
    HIP,
    JOINTS,
    KNEE,
    SHOULDER,
    WRIST,
    BeliefState,
    BodySample,
)
from posewatch.core.records import FloatArray, Frame, Side
from posewatch.core.timebase import to_ns

ALL = np.ones(len(JOINTS), np.bool_)


def frame(pose: Pose, facing: int = 1) -> Frame:
    return to_frame(0, pose, 0.0, np.random.default_rng(0), facing)


def near_px(pose: Pose, facing: int = 1) -> FloatArray:
    both = landmarks.side_points(frame(pose, facing), facing, WIDTH_PX, HEIGHT_PX)
    return np.asarray(both.points_px[0])


def lengths(points: FloatArray) -> Segments:
    return Segments(
        *(math.dist(points[a], points[b]) for a, b in ((SHOULDER, HIP), (HIP, KNEE), (KNEE, ANKLE)))
    )


FITTED = near_px(Pose(40.0))
KNOWN = BeliefState(lengths=lengths(FITTED), held=True)


def believe(points: FloatArray, state: BeliefState = KNOWN, t_s: float = 0.0) -> BodySample:
    return landmarks.believe(state, to_ns(t_s), points, ALL)[1]


def moved(joint: int, by: tuple[float, float]) -> FloatArray:
    points = FITTED.copy()
    points[joint] += by
    return points


def believed(sample: BodySample) -> set[str]:
    return {
        name
        for name, place in zip(JOINTS, sample.points_px, strict=True)
        if np.isfinite(place).all()
    }


# --- which side ---------------------------------------------------------------------------------


def test_landmark_numbers() -> None:
    # The pose model's published list: 11/12 shoulders, 13/14 elbows, 15/16 wrists, 23/24 hips,
    # 25/26 knees, 27/28 ankles, 29/30 heels, 31/32 foot index; odd = left.
    assert landmarks.LANDMARKS[Side.LEFT].tolist() == [11, 13, 15, 23, 25, 27, 29, 31]
    assert landmarks.LANDMARKS[Side.RIGHT].tolist() == [12, 14, 16, 24, 26, 28, 30, 32]


@pytest.mark.parametrize("facing", [1, -1])
def test_facing_is_known_after_fifteen_pictures(facing: int) -> None:
    state = BeliefState()
    for count in range(1, 16):
        state = landmarks.vote_facing(state, frame(Pose(20.0 * count), facing))
        assert state.facing == (facing if count == 15 else 0)
    assert landmarks.near_side(facing) is (Side.RIGHT if facing > 0 else Side.LEFT)


def test_a_few_mirrored_pictures_do_not_turn_the_rider_round() -> None:
    state = BeliefState()
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
        assert landmarks.vote_facing(BeliefState(), useless) == BeliefState()


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
    both = landmarks.side_points(replace(shown, **{field: level}), 1, WIDTH_PX, HEIGHT_PX)
    assert not both.trusted[0, KNEE]
    assert both.trusted.sum() == 15


@pytest.mark.parametrize("place", [(-1.0, 50.0), (50.0, -1.0), (640.0, 50.0), (50.0, 480.0)])
def test_a_joint_outside_the_picture_is_not_trusted(place: tuple[float, float]) -> None:
    shown = frame(Pose(0.0))
    points = shown.points_px.copy()
    points[28] = place
    both = landmarks.side_points(replace(shown, points_px=points), 1, WIDTH_PX, HEIGHT_PX)
    assert np.argwhere(~both.trusted).tolist() == [[0, ANKLE]]


def test_nobody_is_not_trusted() -> None:
    both = landmarks.side_points(frame(Pose(0.0, seen=False)), 1, WIDTH_PX, HEIGHT_PX)
    assert not both.trusted.any()


# --- what is believed -----------------------------------------------------------------------------


def test_the_rider_is_believed() -> None:
    sample = believe(FITTED)
    assert believed(sample) == set(JOINTS)
    assert sample.seen
    joints = joints_m(Pose(40.0))
    true = knee_flexion_deg(joints["hip"], joints["knee"], joints["ankle"])
    assert sample.knee_flexion_deg == pytest.approx(float(true), abs=0.1)


@pytest.mark.parametrize(
    ("joint", "by", "gone"),
    [
        (ANKLE, (0.0, -45.0), {"ankle", "knee"}),
        (SHOULDER, (30.0, 40.0), {"shoulder", "hip"}),
        (HIP, (60.0, 30.0), {"shoulder", "hip", "knee"}),
    ],
)
def test_a_segment_of_another_length_is_not_this_rider_s(
    joint: int, by: tuple[float, float], gone: set[str]
) -> None:
    sample = believe(moved(joint, by))
    assert set(JOINTS) - believed(sample) == gone
    assert not sample.seen


def test_an_angle_without_all_its_joints_has_no_value() -> None:
    sample = believe(moved(ANKLE, (0.0, -45.0)))
    assert math.isnan(sample.knee_flexion_deg)
    assert math.isnan(sample.hip_included_deg)
    assert sample.torso_deg == pytest.approx(42.0, abs=0.1)


def test_a_hand_elsewhere_is_believed_since_a_hand_can_go_anywhere() -> None:
    sample = believe(moved(WRIST, (80.0, 90.0)))
    assert sample.seen
    assert believed(sample) == set(JOINTS)


def jump(after_s: float, by_px: float) -> bool:
    """Return whether the whole body is believed after moving so far in such a time."""
    state, _ = landmarks.believe(KNOWN, 0, FITTED, ALL)
    return landmarks.believe(state, to_ns(after_s), FITTED + (by_px, 0.0), ALL)[1].seen


def test_nobody_s_hip_moves_faster_than_four_thighs_a_second() -> None:
    # 108 px a thigh: 14 px in a thirtieth of a second, and 16 px of jitter.
    assert jump(1 / 30, 25.0)
    assert not jump(1 / 30, 40.0)
    assert jump(0.3, 100.0)


def test_after_half_a_second_a_joint_is_taken_up_where_it_is() -> None:
    assert not jump(0.45, 260.0)
    assert jump(0.55, 260.0)


def test_a_disbelieved_place_does_not_become_the_last_one() -> None:
    state, _ = landmarks.believe(KNOWN, 0, FITTED, ALL)
    state, _ = landmarks.believe(state, to_ns(0.033), FITTED + (60.0, 0.0), ALL)
    assert landmarks.believe(state, to_ns(0.067), FITTED, ALL)[1].seen


def test_running_lengths_follow_slowly_and_a_target_s_stay() -> None:
    state, _ = landmarks.believe(BeliefState(), 0, FITTED, ALL)
    assert state.lengths == lengths(FITTED)
    larger = HIP_CENTRED * 1.2 + FITTED[HIP]
    for k in range(1, 40):
        state, _ = landmarks.believe(state, to_ns(k), larger, ALL)
    assert state.lengths is not None
    assert state.lengths.thigh_px == pytest.approx(1.2 * lengths(FITTED).thigh_px, rel=1e-6)
    held = KNOWN
    for k in range(40):
        held, _ = landmarks.believe(held, to_ns(k), larger, ALL)
    assert held.lengths == KNOWN.lengths


HIP_CENTRED = FITTED - FITTED[HIP]
