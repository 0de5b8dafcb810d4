"""The rider on the bike: a posture (a few numbers) turned into a posed body."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from demo_clips.render.arms import Hand, arm_rotations
from demo_clips.render.body import Body
from demo_clips.render.body_data import NECK, SPINE
from demo_clips.render.skeleton import Pose, carry, part_way, pitch, pose_bones, reach, roll, yaw

Array = NDArray[np.float64]

SIDES = {"R": 1.0, "L": -1.0}
SHOE_BEYOND_FOOT_M = 0.006
SOLE_BELOW_FOOT_M = 0.026  # shoe sole and cleat between the bare foot and the pedal axle


@dataclass(frozen=True)
class Fit:
    """How this rider is set up on this bike. Lengths in metres, angles in degrees."""

    crank_length_m: float = 0.1725
    foot_spacing_m: float = 0.118  # each foot's distance from the bike's middle plane
    least_knee_flexion_deg: float = 37.0
    seat_angle_deg: float = 73.5  # line from the crank axis to the hip joints, above horizontal
    torso_deg: float = 45.0  # hands on the hoods
    spine_curve_deg: float = 6.5  # added forward lean from each vertebra bone to the next
    head_lean_deg: float = 12.0
    elbow_flexion_deg: float = 36.0
    arm_slope_deg: float = -47.0  # shoulder to wrist, from horizontal
    wrist_spacing_m: float = 0.215
    foot_pitch_deg: float = 18.0
    foot_swing_deg: float = 9.0
    foot_lag_deg: float = -20.0
    hoods_to_drops_m: tuple[float, float] = (-0.060, -0.125)  # forward, up


@dataclass(frozen=True)
class Posture:
    """One instant of riding.

    Attributes:
        right_crank_deg: 0 = right crank at top, 90 = forward.
        hip_m: (3,) middle between the hip joints.
        torso_deg: hips to shoulders, above horizontal.
        pelvis_tilt_deg: right hip down.
        foot_pitch_deg: mean toes-down angle of the soles.
        foot_swing_deg: half the range of ankling within a stroke.
        hands: side ("R", "L") to the hand's place.
        head_lean_deg: forward lean of the head.
    """

    right_crank_deg: float
    hip_m: Array
    torso_deg: float
    pelvis_tilt_deg: float
    foot_pitch_deg: float
    foot_swing_deg: float
    hands: dict[str, Hand]
    head_lean_deg: float


class Rider:
    """A body with a fit: finds the saddle and bar places, and poses the body for a posture."""

    def __init__(self, body: Body, fit: Fit) -> None:
        self.body = body
        self.fit = fit
        self.thigh_m = body.length_m("upperleg01.R", "lowerleg01.R")
        self.shank_m = body.length_m("lowerleg01.R", "foot.R")
        self.upper_arm_m = body.length_m("upperarm01.R", "lowerarm01.R")
        self.forearm_m = body.length_m("lowerarm01.R", "wrist.R")

    def crank_angle_deg(self, right_crank_deg: float, side: str) -> float:
        """Angle of one side's crank: the left is half a turn behind the right."""
        return right_crank_deg if side == "R" else right_crank_deg + 180.0

    def pedal_m(self, right_crank_deg: float, side: str) -> Array:
        """(3,) pedal axle, in the middle of the foot's width."""
        angle = np.radians(self.crank_angle_deg(right_crank_deg, side))
        length = self.fit.crank_length_m
        return np.array(
            [length * np.sin(angle), length * np.cos(angle), SIDES[side] * self.fit.foot_spacing_m]
        )

    def foot_pitch_at(self, crank_deg: float, mean_deg: float, swing_deg: float) -> float:
        """Toes-down angle at a crank angle: most before the top, least before the bottom."""
        return float(mean_deg + swing_deg * np.cos(np.radians(crank_deg - self.fit.foot_lag_deg)))

    def foot_rotation(self, side: str, pitch_deg: float) -> Array:
        """World rotation of a foot pointing straight ahead."""
        forward = self.body.joints_m[f"toe3-1.{side}"] - self.body.joints_m[f"foot.{side}"]
        straighten: Array = yaw(float(np.degrees(np.arctan2(forward[2], forward[0]))))
        rotation: Array = pitch(pitch_deg) @ straighten
        return rotation

    def cleat_m(self, side: str) -> Array:
        """(3,) rest-pose point of the foot that sits on the pedal axle: under the ball."""
        inner, outer = (self.body.joints_m[f"toe{toe}-1.{side}"] for toe in (1, 5))
        ball: Array = (inner + outer) / 2
        ball[1] = self.body.floor_m - SOLE_BELOW_FOOT_M
        return ball

    def shoe_ends_m(self, side: str) -> tuple[Array, Array]:
        """Rest-pose heel and toe ends (3,) of the shoe, just above its sole."""
        points = self.body.vertices_m[self.body.on_side(side)]
        low = points[points[:, 1] < self.body.floor_m + 0.045]
        heel, toe = low[low[:, 0].argmin()].copy(), low[low[:, 0].argmax()].copy()
        heel += [-SHOE_BEYOND_FOOT_M, 0.0, 0.0]
        toe += [SHOE_BEYOND_FOOT_M, 0.0, 0.0]
        heel[1] = toe[1] = self.body.floor_m + 0.015
        return heel, toe

    def ankle_m(self, side: str, pedal_m: Array, pitch_deg: float) -> Array:
        """(3,) ankle joint of a foot on a pedal."""
        rest = self.body.joints_m[f"foot.{side}"] - self.cleat_m(side)
        ankle: Array = pedal_m + self.foot_rotation(side, pitch_deg) @ rest
        return ankle

    @cached_property
    def hip_m(self) -> Array:
        """(3,) hips on the saddle: on the seat line, where the knee just keeps its flexion."""
        fit = self.fit
        slope = np.radians(fit.seat_angle_deg)
        along = np.array([-np.cos(slope), np.sin(slope), 0.0])
        flexion = np.radians(fit.least_knee_flexion_deg)
        longest = np.sqrt(
            self.thigh_m**2 + self.shank_m**2 + 2 * self.thigh_m * self.shank_m * np.cos(flexion)
        )
        side_m = np.array([0.0, 0.0, abs(self.body.joints_m["upperleg01.R"][2])])
        ankles = np.array(
            [
                self.ankle_m(
                    "R",
                    self.pedal_m(crank, "R"),
                    self.foot_pitch_at(crank, fit.foot_pitch_deg, fit.foot_swing_deg),
                )
                for crank in range(0, 360, 5)
            ]
        )
        nearest, farthest = 0.4, 1.1
        for _ in range(40):
            distance = (nearest + farthest) / 2
            extent = np.linalg.norm(ankles - (along * distance + side_m), axis=1).max()
            nearest, farthest = (distance, farthest) if extent < longest else (nearest, distance)
        hip: Array = along * distance
        return hip

    def _upper_body(self, pelvis_deg: float, tilt_deg: float, head_deg: float) -> dict[str, Array]:
        """Rotations of pelvis, spine, collar bones, neck and head.

        The sideways tilt of the pelvis fades along the spine, so the shoulders stay level.
        """
        turned = {"root": roll(tilt_deg) @ pitch(pelvis_deg)}
        lean = pelvis_deg
        for step, bone in enumerate(SPINE):
            lean += self.fit.spine_curve_deg
            turned[bone] = roll(tilt_deg * (1 - (step + 1) / len(SPINE))) @ pitch(lean)
        for step, bone in enumerate(NECK):
            turned[bone] = pitch(lean + (head_deg - lean) * (step + 1) / len(NECK))
        for side, sign in SIDES.items():
            turned[f"clavicle.{side}"] = turned["spine01"] @ yaw(14.0 * sign) @ roll(-6.0 * sign)
        return turned

    @cached_property
    def _upright_torso_deg(self) -> float:
        """Torso angle when the pelvis leans by zero; leaning turns hips to shoulders rigidly."""
        turned = self._upper_body(0.0, 0.0, 0.0)
        posed = pose_bones(self.body, np.zeros(3), turned).joints_m
        middle = (posed["upperarm01.R"] + posed["upperarm01.L"]) / 2
        return float(np.degrees(np.arctan2(middle[1], middle[0])))

    def upper_body(self, torso_deg: float, tilt_deg: float, head_deg: float) -> dict[str, Array]:
        """Rotations of everything above the hips for a torso angle."""
        return self._upper_body(self._upright_torso_deg - torso_deg, tilt_deg, head_deg)

    @cached_property
    def hoods_wrist_m(self) -> Array:
        """(3,) right wrist with the hands on the hoods, from the fit's torso and arm angles."""
        fit = self.fit
        turned = self.upper_body(fit.torso_deg, 0.0, fit.head_lean_deg)
        shoulder = pose_bones(self.body, self.hip_m, turned).joints_m["upperarm01.R"]
        bend = np.radians(fit.elbow_flexion_deg)
        arm = np.sqrt(
            self.upper_arm_m**2
            + self.forearm_m**2
            + 2 * self.upper_arm_m * self.forearm_m * np.cos(bend)
        )
        inward = shoulder[2] - fit.wrist_spacing_m
        along = np.sqrt(arm**2 - inward**2)
        slope = np.radians(fit.arm_slope_deg)
        return np.array(
            [
                shoulder[0] + along * np.cos(slope),
                shoulder[1] + along * np.sin(slope),
                fit.wrist_spacing_m,
            ]
        )

    def hoods_hand(self, side: str) -> Hand:
        """A hand resting on the hood, its thumb inside."""
        sign = SIDES[side]
        return Hand(
            wrist_m=self.hoods_wrist_m * [1.0, 1.0, sign],
            elbow_towards=np.array([-0.35, -1.0, 0.35 * sign]),
            knuckles_towards=np.array([0.95, -0.30, 0.0]),
            thumb_towards=np.array([0.25, 1.0, -0.45 * sign]),
        )

    def drops_hand(self, side: str) -> Hand:
        """A hand round the hook of the drop bar, its thumb above and inside."""
        sign = SIDES[side]
        forward, up = self.fit.hoods_to_drops_m
        return Hand(
            wrist_m=(self.hoods_wrist_m + [forward, up, 0.0]) * [1.0, 1.0, sign],
            elbow_towards=np.array([-0.45, -0.9, 0.45 * sign]),
            knuckles_towards=np.array([0.97, -0.20, -0.10 * sign]),
            thumb_towards=np.array([0.20, 1.0, -0.35 * sign]),
        )

    def drinking_hand(self, side: str) -> Hand:
        """A hand in front of the mouth, palm inward, as if holding a bottle to it."""
        sign = SIDES[side]
        turned = self.upper_body(self.fit.torso_deg, 0.0, self.fit.head_lean_deg)
        head = pose_bones(self.body, self.hip_m, turned).joints_m["head"]
        return Hand(
            wrist_m=head + np.array([0.165, -0.095, 0.075 * sign]),
            elbow_towards=np.array([0.15, -1.0, 0.9 * sign]),
            knuckles_towards=np.array([0.25, 0.45, -0.75 * sign]),
            thumb_towards=np.array([-0.8, 0.5, -0.1 * sign]),
        )

    def resting_hand(self, side: str) -> Hand:
        """A flat hand on the buttock, the arm swung back so that the wrist is before the hip."""
        sign = SIDES[side]
        hip = self.hip_m + [0.0, 0.0, self.body.joints_m["upperleg01.R"][2] * sign]
        return Hand(
            wrist_m=hip + np.array([-0.012, -0.025, 0.115 * sign]),
            elbow_towards=np.array([-0.7, 0.7, 0.35 * sign]),
            knuckles_towards=np.array([-0.75, -0.65, -0.15 * sign]),
            thumb_towards=np.array([0.65, -0.75, -0.10 * sign]),
            curl=0.15,
        )

    def neutral_posture(self, right_crank_deg: float) -> Posture:
        """Hands on the hoods as fitted, without any variation."""
        fit = self.fit
        return Posture(
            right_crank_deg=right_crank_deg,
            hip_m=self.hip_m,
            torso_deg=fit.torso_deg,
            pelvis_tilt_deg=0.0,
            foot_pitch_deg=fit.foot_pitch_deg,
            foot_swing_deg=fit.foot_swing_deg,
            hands={side: self.hoods_hand(side) for side in SIDES},
            head_lean_deg=fit.head_lean_deg,
        )

    def _leg(self, turned: dict[str, Array], hip: Array, side: str, posture: Posture) -> None:
        """Add the rotations of one leg, its foot on the pedal."""
        rest, sign = self.body.joints_m, SIDES[side]
        crank = self.crank_angle_deg(posture.right_crank_deg, side)
        pitch_deg = self.foot_pitch_at(crank, posture.foot_pitch_deg, posture.foot_swing_deg)
        ankle = self.ankle_m(side, self.pedal_m(posture.right_crank_deg, side), pitch_deg)
        knee = reach(hip, ankle, self.thigh_m, self.shank_m, np.array([1.0, 0.25, 0.02 * sign]))
        lateral = np.array([0.0, 0.0, 1.0])
        hinge = np.cross(knee - hip, ankle - knee)
        hinge = hinge if hinge[2] > 0 else -hinge
        thigh = carry(
            rest[f"lowerleg01.{side}"] - rest[f"upperleg01.{side}"], lateral, knee - hip, hinge
        )
        turned[f"upperleg01.{side}"] = thigh
        turned[f"lowerleg01.{side}"] = carry(
            rest[f"foot.{side}"] - rest[f"lowerleg01.{side}"], lateral, ankle - knee, hinge
        )
        turned[f"foot.{side}"] = self.foot_rotation(side, pitch_deg)
        turned[f"pelvis.{side}"] = part_way(turned["root"], thigh, 0.22)

    def pose(self, posture: Posture) -> Pose:
        """Pose the body: torso first, then legs to the pedals and arms to the wrist places."""
        turned = self.upper_body(posture.torso_deg, posture.pelvis_tilt_deg, posture.head_lean_deg)
        trunk = pose_bones(self.body, posture.hip_m, turned).joints_m
        for side in SIDES:
            self._leg(turned, trunk[f"upperleg01.{side}"], side, posture)
            shoulder = trunk[f"upperarm01.{side}"]
            turned |= arm_rotations(self.body, side, shoulder, posture.hands[side])
        return pose_bones(self.body, posture.hip_m, turned)
