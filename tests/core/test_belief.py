"""Which joints are believed, and why not."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from linkage_rider import HEIGHT_PX, WIDTH_PX, Pose, joints_m, to_frame

from posewatch.core import belief, landmarks
from posewatch.core.angles import knee_flexion_deg
from posewatch.core.belief import BeliefState, BodySample
from posewatch.core.doubts import WORDS, Doubt
from posewatch.core.envelope import Segments
from posewatch.core.landmarks import ANKLE, ELBOW, HIP, JOINTS, KNEE, SHOULDER, WRIST
from posewatch.core.records import FloatArray
from posewatch.core.timebase import to_ns

LOOKED_AT = np.zeros(len(JOINTS), np.uint8)


def near_px(pose: Pose) -> FloatArray:
    frame = to_frame(0, pose, 0.0, np.random.default_rng(0))
    return np.asarray(landmarks.side_points(frame, 1, WIDTH_PX, HEIGHT_PX, None).points[0])


def lengths(points: FloatArray) -> Segments:
    return Segments(*belief.segment_lengths(points.tolist()))


FITTED = near_px(Pose(40.0))
KNOWN = BeliefState(lengths=lengths(FITTED), held=True)
SEATED = replace(KNOWN, seat=(float(FITTED[HIP, 0]), float(FITTED[HIP, 1])))
THIGH = lengths(FITTED).thigh


def step(
    state: BeliefState, t_s: float, points: FloatArray, pedals: bool = True
) -> tuple[BeliefState, BodySample]:
    return belief.believe(state, to_ns(t_s), points, LOOKED_AT, pedals)


def believe(points: FloatArray, state: BeliefState = KNOWN, pedals: bool = True) -> BodySample:
    return step(state, 0.0, points, pedals)[1]


def doubted(sample: BodySample) -> dict[str, Doubt]:
    return {
        name: Doubt(int(doubt))
        for name, doubt in zip(JOINTS, sample.doubts, strict=True)
        if doubt != Doubt.NONE
    }


def moved(joint: int, by: tuple[float, float]) -> FloatArray:
    points = FITTED.copy()
    points[joint] += by
    return points


def test_the_rider_is_believed() -> None:
    sample = believe(FITTED)
    assert doubted(sample) == {}
    assert sample.seen
    assert sample.doubt() is None
    assert np.array_equal(sample.points, FITTED)
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
    assert doubted(sample) == dict.fromkeys(gone, Doubt.LENGTH)
    assert not sample.seen
    assert {n for n, p in zip(JOINTS, sample.points, strict=True) if np.isnan(p).all()} == gone


def test_an_angle_without_all_its_joints_has_no_value() -> None:
    sample = believe(moved(ANKLE, (0.0, -45.0)))
    assert math.isnan(sample.knee_flexion_deg)
    assert math.isnan(sample.hip_included_deg)
    assert sample.torso_deg == pytest.approx(42.0, abs=0.1)


def test_a_hand_elsewhere_is_believed_since_a_hand_can_go_anywhere() -> None:
    sample = believe(moved(WRIST, (80.0, 90.0)))
    assert sample.seen
    assert doubted(sample) == {}


def jump(after_s: float, by_px: float) -> bool:
    """Return whether the whole body is believed after moving so far in such a time."""
    state, _ = step(KNOWN, 0.0, FITTED)
    return step(state, after_s, FITTED + (by_px, 0.0))[1].seen


def test_nobody_s_hip_moves_faster_than_four_thighs_a_second() -> None:
    # 108 px a thigh: 14 px in a thirtieth of a second, and 16 px of jitter.
    assert jump(1 / 30, 25.0)
    assert not jump(1 / 30, 40.0)
    assert jump(0.3, 100.0)


def test_after_half_a_second_a_joint_is_taken_up_where_it_is() -> None:
    assert not jump(0.45, 260.0)
    assert jump(0.55, 260.0)


def test_a_disbelieved_place_does_not_become_the_last_one() -> None:
    state, _ = step(KNOWN, 0.0, FITTED)
    state, _ = step(state, 0.033, FITTED + (60.0, 0.0))
    assert step(state, 0.067, FITTED)[1].seen


def test_running_lengths_follow_slowly_and_a_target_s_stay() -> None:
    state, _ = step(BeliefState(), 0.0, FITTED)
    assert state.lengths == lengths(FITTED)
    larger = (FITTED - FITTED[HIP]) * 1.2 + FITTED[HIP]
    for k in range(1, 40):
        state, _ = step(state, float(k), larger)
    assert state.lengths is not None
    assert state.lengths.thigh == pytest.approx(1.2 * lengths(FITTED).thigh, rel=1e-6)
    held = KNOWN
    for k in range(40):
        held, _ = step(held, float(k), larger)
    assert held.lengths == KNOWN.lengths


# --- every doubt ----------------------------------------------------------------------------------


def test_a_joint_that_moved_faster_than_a_body_does() -> None:
    state, _ = step(KNOWN, 0.0, FITTED)
    found = step(state, 1 / 30, FITTED + (40.0, 0.0))[1]
    # The knee may move nine thighs a second, hip and shoulder four; the ankle has the crank's gate.
    assert doubted(found) == dict.fromkeys(("shoulder", "hip"), Doubt.TOO_FAST)
    assert found.doubt() == ("shoulder", Doubt.TOO_FAST)


def test_what_cannot_be_looked_at_keeps_its_reason_and_harms_only_itself() -> None:
    for doubt in (Doubt.NOT_VISIBLE, Doubt.OFF_PICTURE, Doubt.CUT_OFF, Doubt.OTHER_WAY):
        doubts = LOOKED_AT.copy()
        doubts[WRIST] = doubt
        found = belief.believe(KNOWN, 0, FITTED, doubts, pedals=True)[1]
        assert doubted(found) == {"wrist": doubt}
        assert found.seen
        doubts[KNEE] = doubt
        found = belief.believe(KNOWN, 0, FITTED, doubts, pedals=True)[1]
        assert not found.seen
        assert found.doubt() == ("knee", doubt)
        assert math.isnan(found.knee_flexion_deg)
        assert found.torso_deg == pytest.approx(42.0, abs=0.1)


@pytest.mark.parametrize("by", [(0.85, 0.0), (0.0, -0.85), (-0.6, 0.6)])
def test_a_hip_far_from_the_saddle_is_somebody_else_s_and_so_is_the_rest(
    by: tuple[float, float],
) -> None:
    found = believe(FITTED + np.array(by) * THIGH, SEATED)
    assert doubted(found) == dict.fromkeys(JOINTS, Doubt.OFF_REGION)
    assert np.isnan(found.hip).all()


@pytest.mark.parametrize("by", [(0.33, 0.2), (-0.75, 0.0), (0.0, 0.75)])
def test_a_rider_who_stands_on_the_pedals_is_still_the_rider(by: tuple[float, float]) -> None:
    assert believe(FITTED + np.array(by) * THIGH, SEATED).seen


def test_without_a_target_there_is_no_region() -> None:
    assert believe(FITTED + (3.0 * THIGH, 0.0)).seen


def test_a_body_whose_ankle_does_not_pedal_is_not_believed_but_its_hip_is_told() -> None:
    # Who rises from the saddle has another foot: that the hip is up must still be seen.
    found = believe(FITTED, SEATED, pedals=False)
    assert doubted(found) == dict.fromkeys(JOINTS, Doubt.NOT_PEDALLING)
    assert found.hip == pytest.approx(FITTED[HIP])
    assert np.isnan(found.points).all()


def test_a_hip_that_is_not_this_rider_s_is_not_told_either() -> None:
    found = believe(moved(HIP, (60.0, 30.0)), pedals=False)
    assert np.isnan(found.hip).all()
    assert doubted(found)["hip"] is Doubt.LENGTH
    assert doubted(found)["ankle"] is Doubt.NOT_PEDALLING


def with_forearm(wrist: tuple[float, float], elbow: tuple[float, float]) -> FloatArray:
    """Return the fitted rider with the forearm there, from the hip in thighs."""
    points = FITTED.copy()
    points[WRIST] = FITTED[HIP] + np.array(wrist) * THIGH
    points[ELBOW] = FITTED[HIP] + np.array(elbow) * THIGH
    return points


@pytest.mark.parametrize(
    ("wrist", "elbow", "behind"),
    [
        ((-0.3, 0.0), (0.4, 0.0), True),
        ((-0.3, 0.12), (0.4, 0.12), True),
        ((-0.3, 0.14), (0.4, 0.14), False),
        ((0.0, -0.12), (0.1, 0.5), True),
        ((0.0, 0.14), (0.1, 0.7), False),
        ((0.05, 0.05), (0.05, 0.05), True),
    ],
    ids=["across", "just across", "above", "hand at it", "hand above it", "no forearm at all"],
)
def test_a_hip_behind_the_forearm_is_not_believed_however_well_it_is_made_out(
    wrist: tuple[float, float], elbow: tuple[float, float], behind: bool
) -> None:
    found = believe(with_forearm(wrist, elbow))
    assert doubted(found) == ({"hip": Doubt.BEHIND_ARM} if behind else {})
    assert np.isnan(found.hip).all() == behind
    assert math.isnan(found.torso_deg) == behind


def test_a_forearm_that_cannot_be_looked_at_hides_nothing() -> None:
    for joint in (ELBOW, WRIST):
        doubts = LOOKED_AT.copy()
        doubts[joint] = Doubt.NOT_VISIBLE
        across = with_forearm((-0.3, 0.0), (0.4, 0.0))
        assert belief.believe(KNOWN, 0, across, doubts, pedals=True)[1].seen


def test_what_a_hidden_joint_is_taken_for_tells_nothing_of_the_next_one() -> None:
    """A hip that is invented far away must not make knee and shoulder somebody else's."""
    doubts = LOOKED_AT.copy()
    doubts[HIP] = Doubt.NOT_VISIBLE
    for place in ((60.0, 30.0), (math.nan, math.nan)):
        found = belief.believe(KNOWN, 0, moved(HIP, place), doubts, pedals=True)[1]
        assert doubted(found) == {"hip": Doubt.NOT_VISIBLE}


def test_nobody() -> None:
    found = belief.nothing(7)
    assert (found.t_ns, found.seen) == (7, False)
    assert found.doubt() == ("shoulder", Doubt.NOBODY)
    assert np.isnan([found.torso_deg, found.knee_flexion_deg, found.hip_included_deg]).all()
    assert np.isnan(found.points).all()
    assert np.isnan(found.hip).all()


def test_every_doubt_has_words_of_its_own() -> None:
    assert set(WORDS) == set(Doubt)
    assert Doubt.NONE.words == ""
    assert len(set(WORDS.values())) == len(Doubt)
