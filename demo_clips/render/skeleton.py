"""Turning bones: rotations, two-bone reaching, joint positions and the skin that follows."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from demo_clips.render.body import Body

Array = NDArray[np.float64]

REACH_LIMIT = 0.9995  # a limb never quite straightens, so its hinge axis stays defined


def unit(vector: Array) -> Array:
    """The vector scaled to length one."""
    scaled: Array = vector / np.linalg.norm(vector)
    return scaled


def turn(axis: Array, angle_deg: float) -> Array:
    """(3, 3) right-handed rotation about a unit axis (Rodrigues' formula)."""
    angle = np.radians(angle_deg)
    x, y, z = axis
    cross = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    rotation: Array = np.eye(3) + np.sin(angle) * cross + (1 - np.cos(angle)) * cross @ cross
    return rotation


def pitch(angle_deg: float) -> Array:
    """Lean forward, or toes down: y turns towards x."""
    return turn(np.array([0.0, 0.0, 1.0]), -angle_deg)


def yaw(angle_deg: float) -> Array:
    """Turn left about the vertical."""
    return turn(np.array([0.0, 1.0, 0.0]), angle_deg)


def roll(angle_deg: float) -> Array:
    """Tilt to the right: y turns towards z."""
    return turn(np.array([1.0, 0.0, 0.0]), angle_deg)


def part_way(start: Array, end: Array, share: float) -> Array:
    """The rotation a given share of the way from one rotation to another."""
    step = start.T @ end
    angle = np.arccos(np.clip((np.trace(step) - 1) / 2, -1, 1))
    if angle < 1e-9:
        return start
    axis = np.array([step[2, 1] - step[1, 2], step[0, 2] - step[2, 0], step[1, 0] - step[0, 1]])
    blended: Array = start @ turn(axis / (2 * np.sin(angle)), np.degrees(angle) * share)
    return blended


def carry(rest_along: Array, rest_hinge: Array, along: Array, hinge: Array) -> Array:
    """The rotation that takes a bone's rest direction and hinge axis to the wanted ones."""

    def frame(direction: Array, beside: Array) -> Array:
        first = unit(direction)
        second = unit(beside - first * (beside @ first))
        return np.stack([first, second, np.cross(first, second)], axis=1)

    rotation: Array = frame(along, hinge) @ frame(rest_along, rest_hinge).T
    return rotation


def reach(
    start: Array, target: Array, upper_m: float, lower_m: float, bend_towards: Array
) -> Array:
    """Where the middle joint of a two-bone limb lies (law of cosines).

    Args:
        start: (3,) hip or shoulder.
        target: (3,) ankle or wrist; one out of reach is approached along the line to it.
        upper_m: length of the thigh or upper arm.
        lower_m: length of the shank or forearm.
        bend_towards: (3,) direction in which the knee or elbow points.
    """
    gap = target - start
    distance = min(float(np.linalg.norm(gap)), (upper_m + lower_m) * REACH_LIMIT)
    along = unit(gap)
    foot_of_height = (upper_m**2 - lower_m**2 + distance**2) / (2 * distance)
    height = np.sqrt(max(upper_m**2 - foot_of_height**2, 0.0))
    sideways = unit(bend_towards - along * (bend_towards @ along))
    middle: Array = start + along * foot_of_height + sideways * height
    return middle


@dataclass(frozen=True)
class Pose:
    """A posed body: world rotation (3, 3) and joint position (3,) of every bone, metres."""

    body: Body
    rotations: dict[str, Array]
    joints_m: dict[str, Array]

    def carried(self, bone: str, rest_m: Array) -> Array:
        """Where points (..., 3) fixed to a bone in the rest pose have moved to."""
        moved: Array = (rest_m - self.body.joints_m[bone]) @ self.rotations[bone].T
        return moved + self.joints_m[bone]

    def skin(self, rest_m: Array, normals: Array) -> tuple[Array, Array]:
        """Linear blend skinning of (V, 3) rest vertices and their normals."""
        moves = np.empty((len(self.body.bones), 12))
        for row, bone in zip(moves, self.body.bones, strict=True):
            rotation = self.rotations[bone]
            row[:9] = rotation.ravel()
            row[9:] = self.joints_m[bone] - rotation @ self.body.joints_m[bone]
        blended = self.body.weights @ moves
        rotation = blended[:, :9].reshape(-1, 3, 3)
        points = np.einsum("vij,vj->vi", rotation, rest_m) + blended[:, 9:]
        return points, np.einsum("vij,vj->vi", rotation, normals)


def pose_bones(body: Body, hip_m: Array, rotations: Mapping[str, Array]) -> Pose:
    """Joint positions from world rotations (forward kinematics).

    Args:
        body: the rest pose.
        hip_m: (3,) middle between the two hip joints.
        rotations: bone to world rotation; a bone left out turns with its parent.
    """
    rest = body.joints_m
    middle = (rest["upperleg01.R"] + rest["upperleg01.L"]) / 2
    turned: dict[str, Array] = {}
    joints: dict[str, Array] = {}
    for bone in body.bones:
        parent = body.parents[bone]
        if not parent:
            turned[bone] = rotations.get(bone, np.eye(3))
            joints[bone] = hip_m + turned[bone] @ (rest[bone] - middle)
        else:
            turned[bone] = rotations.get(bone, turned[parent])
            joints[bone] = joints[parent] + turned[parent] @ (rest[bone] - rest[parent])
    return Pose(body, turned, joints)
