"""Plain round stickers over the camera-side joints and on the end of the pedal spindle.

Each joint's sticker is stuck on once, on the neutral rider: where the joint's axis, straight
across the bike, comes out of the body or garment, and flat against it. From then on it moves with
the bone that begins at the joint, as if that bone carried it stiffly.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from demo_clips.render.body import Body
from demo_clips.render.dress import DressedBody
from demo_clips.render.rider import SIDES, Rider
from demo_clips.render.shapes import MATT, Mesh, disc, join, rgb, tube
from demo_clips.render.skeleton import Pose, carry, unit

Array = NDArray[np.float64]

STICKER_BONES = {
    "shoulder": "upperarm01",
    "hip": "upperleg01",
    "knee": "lowerleg01",
    "ankle": "foot",
}
STICKERS = (*STICKER_BONES, "pedal")
RADIUS_M = 0.012
THICKNESS_M = 0.0006
# A magenta that nothing else has: CIE 1976 colour difference 80 or more from every kit, skin,
# shoe, bike and room colour (the nearest is skin); the next best, lime, is near the yellow jersey.
COLOUR = "#ff2fb0"
SPINDLE_END_M = 0.064  # outward of the middle of the pedal, clear of the shoe
CLEARANCE_M = 0.003  # above the surface at its highest under the sticker
NEAR_JOINT_M = 0.25  # surfaces farther from the joint than this are of something else
STUCK_AT_CRANK_DEG = range(0, 360, 30)


@dataclass(frozen=True)
class _Stuck:
    """A sticker on a bone of the rest body: its centre (3,) and the way it faces (3,)."""

    bone: str
    centre_m: Array
    facing: Array


def _hits(corners_m: Array, start_m: Array, along: Array) -> tuple[float, Array]:
    """How far along a ray its last triangle is, and that triangle's normal; NaN without any.

    Moeller and Trumbore's ray and triangle intersection (1997), every triangle at once.

    Args:
        corners_m: (T, 3, 3) triangle, corner, axis.
        start_m: (3,) where the ray begins.
        along: (3,) its unit direction.
    """
    first, edge, other = corners_m[:, 0], corners_m[:, 1], corners_m[:, 2]
    edge, other = edge - first, other - first
    across = np.cross(along, other)
    size = np.einsum("ti,ti->t", edge, across)
    with np.errstate(divide="ignore", invalid="ignore"):
        from_first = start_m - first
        u = np.einsum("ti,ti->t", from_first, across) / size
        turned = np.cross(from_first, edge)
        v = turned @ along / size
        distance = np.einsum("ti,ti->t", other, turned) / size
        met = (u >= 0) & (v >= 0) & (u + v <= 1) & (distance > 0) & np.isfinite(distance)
    if not met.any():
        return np.nan, np.full(3, np.nan)
    last = int(np.argmax(np.where(met, distance, -np.inf)))
    normal = unit(np.cross(edge[last], other[last]))
    return float(distance[last]), normal if normal @ along > 0 else -normal


class Stickers:
    """The stickers of one rider in one kit, seen from one side ("R" or "L")."""

    def __init__(self, rider: Rider, dress: DressedBody, side: str) -> None:
        self.rider = rider
        self.side = side
        postures = [rider.neutral_posture(float(deg)) for deg in STUCK_AT_CRANK_DEG]
        poses = [rider.pose(posture) for posture in postures]
        bodies = [dress.posed(pose) for pose in poses]
        self._stuck = {
            name: self._stick(f"{bone}.{side}", poses, bodies)
            for name, bone in STICKER_BONES.items()
        }

    def _stick(self, bone: str, poses: list[Pose], bodies: list[Mesh]) -> _Stuck:
        """Put one sticker on, clear of the surface over a whole turn of the crank."""
        body: Body = self.rider.body
        across = np.array([0.0, 0.0, SIDES[self.side]])
        # In the bone's own axes, so that the joint's turning does not carry the sticker round.
        axis = unit(np.mean([pose.rotations[bone].T @ across for pose in poses], axis=0))
        rim = [
            RADIUS_M * np.array([np.cos(angle), np.sin(angle), 0.0])
            for angle in np.linspace(0, 2 * np.pi, 8, endpoint=False)
        ]
        heights, normals, offsets = [], [], []
        for pose, mesh in zip(poses, bodies, strict=True):
            rotation, joint = pose.rotations[bone], pose.joints_m[bone]
            corners = mesh.points_m[mesh.triangles]
            near = np.linalg.norm(corners[:, 0] - joint, axis=1) < NEAR_JOINT_M
            for offset in [np.zeros(3), *rim]:
                height, normal = _hits(corners[near], joint + offset, rotation @ axis)
                if np.isfinite(height):
                    heights.append(height)
                    normals.append(rotation.T @ normal)
                    offsets.append(rotation.T @ offset)
        facing = unit(np.mean(normals, axis=0))
        tops = np.array(heights) + np.array(offsets) @ facing / (facing @ axis)
        return _Stuck(bone, body.joints_m[bone] + axis * (tops.max() + CLEARANCE_M), facing)

    def _pedal_m(self, right_crank_deg: float) -> Array:
        """(3,) outer end of the pedal spindle."""
        pedal = self.rider.pedal_m(right_crank_deg, self.side)
        return pedal + [0.0, 0.0, SPINDLE_END_M * SIDES[self.side]]

    def centres_m(self, pose: Pose, right_crank_deg: float) -> dict[str, Array]:
        """Centre (3,) of every sticker's face, in the order of STICKERS."""
        centres = {
            name: pose.carried(stuck.bone, stuck.centre_m) for name, stuck in self._stuck.items()
        }
        return {**centres, "pedal": self._pedal_m(right_crank_deg)}

    def mesh(self, pose: Pose, right_crank_deg: float) -> Mesh:
        """The stickers on the posed rider, and the spindle end that the pedal's is on."""
        across = np.array([0.0, 0.0, SIDES[self.side]])
        facing = {
            name: pose.rotations[stuck.bone] @ stuck.facing for name, stuck in self._stuck.items()
        }
        facing["pedal"] = across
        upright = np.array([0.0, 1.0, 0.0])
        face = disc(np.zeros(3), RADIUS_M, THICKNESS_M, rgb(COLOUR), MATT)
        parts = []
        for name, centre in self.centres_m(pose, right_crank_deg).items():
            turned = carry(np.array([0.0, 0.0, 1.0]), upright, facing[name], upright)
            parts.append(face.moved(turned, centre - facing[name] * THICKNESS_M / 2))
        end = self._pedal_m(right_crank_deg) - across * THICKNESS_M
        parts.append(tube([end - 0.03 * across, end], 0.007, rgb("#b8bbc0")))
        return join(parts)
