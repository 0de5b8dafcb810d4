"""The posed rider: bones keep their lengths, feet stay on the pedals, hands on the bar."""

import numpy as np
import pytest

from demo_clips.render.body import load_body
from demo_clips.render.clips import CLIPS
from demo_clips.render.motion import Motion
from demo_clips.render.rider import SIDES, Fit, Rider
from demo_clips.render.skeleton import pose_bones

LIMBS = (
    ("upperleg01", "lowerleg01"),
    ("lowerleg01", "foot"),
    ("upperarm01", "lowerarm01"),
    ("lowerarm01", "wrist"),
)
RIDDEN = [scene for scene in CLIPS if scene.has_rider]


def distance_m(joints, first, second):
    return float(np.linalg.norm(joints[first] - joints[second]))


@pytest.fixture(scope="module")
def rider():
    return Rider(load_body(), Fit())


@pytest.mark.parametrize("scene", RIDDEN, ids=lambda scene: scene.name)
def test_limbs_keep_their_lengths_and_reach_pedals_and_bar(scene, rider):
    motion = Motion(scene, rider)
    for frame in range(0, scene.frame_count, 23):
        posture = motion.posture(frame)
        joints = rider.pose(posture).joints_m
        for side in SIDES:
            for upper, lower in LIMBS:
                names = f"{upper}.{side}", f"{lower}.{side}"
                assert distance_m(joints, *names) == pytest.approx(
                    rider.body.length_m(*names), abs=1e-6
                )
            sole_deg = rider.foot_pitch_at(
                rider.crank_angle_deg(posture.right_crank_deg, side),
                posture.foot_pitch_deg,
                posture.foot_swing_deg,
            )
            pedal = rider.pedal_m(posture.right_crank_deg, side)
            ankle = rider.ankle_m(side, pedal, sole_deg)
            np.testing.assert_allclose(joints[f"foot.{side}"], ankle, atol=1e-6)
            # On the high saddle the arm is straight and may fall short of the bar a little.
            wrist = posture.hands[side].wrist_m
            shortfall_m = 2e-3 if scene.saddle_mm > 0 else 1e-6
            np.testing.assert_allclose(joints[f"wrist.{side}"], wrist, atol=shortfall_m)


def test_the_cleat_of_a_posed_foot_runs_on_the_pedal_circle(rider):
    scene = RIDDEN[0]
    motion = Motion(scene, rider)
    for frame in range(0, 60, 3):
        pose = rider.pose(motion.posture(frame))
        cleat = pose.carried("foot.R", rider.cleat_m("R"))
        angle = np.radians(motion.right_crank_deg[frame])
        assert np.hypot(cleat[0], cleat[1]) == pytest.approx(Fit().crank_length_m, abs=1e-6)
        np.testing.assert_allclose(
            cleat[:2], Fit().crank_length_m * np.array([np.sin(angle), np.cos(angle)]), atol=1e-6
        )


def test_the_fitted_saddle_height_gives_the_fitted_least_knee_flexion(rider):
    ankles = [
        rider.ankle_m("R", rider.pedal_m(deg, "R"), rider.foot_pitch_at(deg, 18.0, 9.0))
        for deg in range(360)
    ]
    hip = rider.hip_m + [0, 0, rider.body.joints_m["upperleg01.R"][2]]
    reach_m = max(np.linalg.norm(ankle - hip) for ankle in ankles)
    cosine = (reach_m**2 - rider.thigh_m**2 - rider.shank_m**2) / (
        2 * rider.thigh_m * rider.shank_m
    )
    assert np.degrees(np.arccos(cosine)) == pytest.approx(Fit().least_knee_flexion_deg, abs=0.1)


def test_the_torso_takes_the_asked_angle(rider):
    for torso_deg in (30.0, 45.0, 55.0):
        turned = rider.upper_body(torso_deg, 0.0, 10.0)
        joints = pose_bones(rider.body, rider.hip_m, turned).joints_m
        middle = (joints["upperarm01.R"] + joints["upperarm01.L"]) / 2 - rider.hip_m
        assert np.degrees(np.arctan2(middle[1], middle[0])) == pytest.approx(torso_deg, abs=1e-6)


def test_hands_in_the_drops_are_well_below_and_behind_the_hoods(rider):
    for side in SIDES:
        forward, up, _ = rider.drops_hand(side).wrist_m - rider.hoods_hand(side).wrist_m
        assert -0.140 <= up <= -0.110
        assert forward < 0
