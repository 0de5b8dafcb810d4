"""What a person wears: garments on the skin, shoes and helmet, and the colours of it all."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import ConvexHull

from demo_clips.render.body import Body
from demo_clips.render.shapes import GLOSS, SKIN, Mesh, box, ellipsoid, join, make_mesh, rgb, tube
from demo_clips.render.shapes import vertex_normals as normals_of
from demo_clips.render.skeleton import Pose, pitch

Array = NDArray[np.float64]

ARM_BONES = ("upperarm", "lowerarm", "wrist", "finger")
JERSEY_THICKNESS_M = 0.007
CLOTH_THICKNESS_M = 0.002
SOCK_FROM = 0.66  # top of the sock as a share of the shank, from the knee
SHOE_GROWTH_M = 0.004


@dataclass(frozen=True)
class Kit:
    """Colours ("#rrggbb") and cut of the clothes.

    Attributes:
        sleeve_share: how far the sleeve covers the upper arm.
        leg_share: how far the shorts cover the leg: 1 = to the knee, 2 = to the ankle.
    """

    jersey: str = "#1f66b0"
    shorts: str = "#16181c"
    socks: str = "#f2f2f2"
    shoes: str = "#e9e9ea"
    skin: str = "#c98f6d"
    hair: str = "#2b1d14"
    helmet: str | None = "#f4f4f4"
    sleeve_share: float = 0.72
    leg_share: float = 0.80


RIDER_KIT = Kit()
DARK_KIT = Kit(jersey="#23252b", shorts="#141519", socks="#2a2b30", helmet="#3a3c42")
WALKER_KIT = Kit(
    jersey="#7d4f9e",
    shorts="#3d4f6b",
    socks="#3d4f6b",
    shoes="#5a3d28",
    hair="#5b3a1e",
    helmet=None,
    sleeve_share=1.7,
    leg_share=1.97,
)


def _along(points: Array, start: Array, end: Array) -> Array:
    """(V,) how far along a bone each point lies: 0 at its start, 1 at its end."""
    bone = end - start
    share: Array = (points - start) @ bone / (bone @ bone)
    return share


def _limb_shares(body: Body, points: Array) -> tuple[Array, Array]:
    """(V,) how far down the leg (1 = knee, 2 = ankle) and the arm (1 = elbow, 2 = wrist)."""
    leg, arm = np.zeros(len(points)), np.zeros(len(points))
    for side in ("R", "L"):
        chosen = body.on_side(side)
        for shares, bones in (
            (leg, ("upperleg01", "lowerleg01", "foot")),
            (arm, ("upperarm01", "lowerarm01", "wrist")),
        ):
            first, middle, last = (body.joints_m[f"{bone}.{side}"] for bone in bones)
            upper = _along(points, first, middle)
            lower = 1 + np.maximum(_along(points, middle, last), 0)
            shares[chosen] = np.where(upper < 1, upper, lower)[chosen]
    return leg, arm


def garment_depths(body: Body, kit: Kit) -> Array:
    """(V, 3) distance inside jersey, shorts and socks in metres; negative outside."""
    points, joints = body.vertices_m, body.joints_m
    leg, arm = _limb_shares(body, points)
    height = points[:, 1]
    on_arm = body.share(*ARM_BONES) > 0.35
    thigh_m = body.length_m("upperleg01.R", "lowerleg01.R")
    shank_m = body.length_m("lowerleg01.R", "foot.R")
    arm_m = body.length_m("upperarm01.R", "lowerarm01.R")
    above_waist = height > joints["spine04"][1] + 0.25
    shorts = np.minimum((kit.leg_share - leg) * thigh_m, 1.0)
    shorts = np.where(on_arm | above_waist, -1.0, shorts)
    neck = joints["neck01"]
    collar = neck[1] + 0.005 - height - 0.21 * (points[:, 0] - neck[0])
    hem = height - (joints["upperleg01.R"][1] + 0.035)
    jersey = np.where(on_arm, (kit.sleeve_share - arm) * arm_m, np.minimum(hem, collar))
    on_leg = body.share("upperleg", "lowerleg", "foot", "pelvis") > 0.5
    socks = np.where(on_leg, (leg - 1 - SOCK_FROM) * shank_m, -1.0)
    return np.column_stack([jersey, shorts, socks])


def _skin_colours(body: Body, kit: Kit) -> Array:
    """(V, 3) colours of skin, hair, brows, lips and eyes."""
    points = body.vertices_m
    colours = np.tile(rgb(kit.skin), (len(points), 1))
    on_head = (body.share("head") > 0.5) & ~body.is_eye
    eyes = points[body.is_eye]
    eye = np.array([eyes[:, 0].max(), eyes[:, 1].mean(), np.abs(eyes[:, 2]).mean()])
    top = points[on_head][:, 1].max()
    ahead, up, aside = (points - [eye[0], eye[1], 0.0]).T
    scalp = (points[:, 1] > top - 0.075) | ((ahead < -0.11) & (up > -0.07))
    forehead = (ahead > -0.055) & (points[:, 1] < top - 0.045)
    colours[on_head & scalp & ~forehead] = rgb(kit.hair)
    beside_eye = np.abs(np.abs(aside) - eye[2])
    brows = (np.abs(up - 0.020) < 0.0055) & (beside_eye < 0.021) & (ahead > -0.03)
    colours[on_head & brows] = rgb(kit.hair)
    lips = (np.abs(up + 0.072) < 0.010) & (np.abs(aside) < 0.024) & (ahead > -0.012)
    colours[on_head & lips] = rgb(kit.skin) * [0.85, 0.6, 0.6]
    colours[body.is_eye] = [0.93, 0.92, 0.90]
    iris = body.is_eye & (np.hypot(up, beside_eye) < 0.0065) & (ahead > -0.006)
    colours[iris] = [0.12, 0.08, 0.06]
    return colours


def _shoe(body: Body, side: str, colour: str) -> Mesh:
    """A shoe round the foot in the rest pose: its convex hull, a little larger, and a sole."""
    ankle = body.joints_m[f"foot.{side}"]
    chosen = (
        (body.share("foot") > 0.5) & body.on_side(side) & (body.vertices_m[:, 1] < ankle[1] - 0.012)
    )
    foot = body.vertices_m[chosen]
    foot = foot[ConvexHull(foot).vertices]
    outward = foot - foot.mean(axis=0)
    grown = foot.mean(axis=0) + 1.05 * outward + SHOE_GROWTH_M * np.sign(outward)
    hull = ConvexHull(grown)
    triangles = hull.simplices.astype(np.int32)
    first, second, third = (grown[triangles[:, corner]] for corner in range(3))
    facing = np.cross(second - first, third - first)
    inward = np.einsum("ij,ij->i", facing, hull.equations[:, :3]) < 0
    triangles[inward] = triangles[inward][:, ::-1]
    upper = make_mesh(grown, normals_of(grown, triangles), triangles, rgb(colour), GLOSS)
    low, high = grown.min(axis=0), grown.max(axis=0)
    middle = [(low[0] + high[0]) / 2, body.floor_m - 0.008, (low[2] + high[2]) / 2]
    sole = box(middle, [(high[0] - low[0]) / 2 - 0.006, 0.007, 0.036], rgb("#1d1d1f"))
    return join([upper, sole])


def _helmet(body: Body, colour: str) -> Mesh:
    """A vented half shell on the head in the rest pose, with its straps."""
    head = body.vertices_m[body.share("head") > 0.5]
    radii = np.array([0.128, 0.118, 0.098])
    centre = np.array(
        [(head[:, 0].max() + head[:, 0].min()) / 2 - 0.012, head[:, 1].max() - 0.088, 0.0]
    )
    shell = ellipsoid(np.zeros(3), radii, rgb(colour), GLOSS, lowest=0.12)
    parts = [shell.moved(pitch(-4.0), centre)]
    over = np.linspace(0.25, 2.5, 24)
    for aside in (-0.052, -0.02, 0.02, 0.052):
        flat = np.sqrt(1 - (aside / radii[2]) ** 2)
        vent = np.stack(
            [
                1.004 * radii[0] * flat * np.cos(over),
                1.006 * radii[1] * flat * np.sin(over),
                np.full_like(over, aside),
            ],
            axis=1,
        )
        parts.append(tube(centre + vent, 0.0055, rgb("#222326"), segments=6, capped=False))
    for sign in (-1.0, 1.0):
        strap = [(0.01, 0.02, 0.085), (0.012, -0.07, 0.073), (0.035, -0.148, 0.02)]
        path = [centre + np.array([x, y, z * sign]) for x, y, z in strap]
        parts.append(tube(path, 0.004, rgb("#18191b"), segments=6))
    return join(parts)


class DressedBody:
    """A body in its kit: gives the mesh of any pose."""

    def __init__(self, body: Body, kit: Kit) -> None:
        self.body = body
        self.kit = kit
        depths = garment_depths(body, kit)
        jersey, shorts, socks = depths.T
        bare = normals_of(body.vertices_m, body.triangles)
        folds = 0.0012 * np.sin(70 * body.vertices_m[:, 1] + 3 * np.sin(40 * body.vertices_m[:, 0]))
        thickness = JERSEY_THICKNESS_M * np.clip(jersey / 0.02, 0, 1) + folds * (jersey > 0.02)
        thickness += CLOTH_THICKNESS_M * (((shorts > 0) & (jersey <= 0)) | (socks > 0))
        points = body.vertices_m + bare * thickness[:, None]
        rest = make_mesh(
            points,
            normals_of(points, body.triangles),
            body.triangles,
            _skin_colours(body, kit),
            SKIN,
        )
        self._rest = replace(rest, garments_m=depths)

    @cached_property
    def _worn(self) -> list[tuple[str, Mesh]]:
        """Stiff things and the bone that carries each."""
        worn = [(f"foot.{side}", _shoe(self.body, side, self.kit.shoes)) for side in ("R", "L")]
        if self.kit.helmet is not None:
            worn.append(("head", _helmet(self.body, self.kit.helmet)))
        return worn

    def posed(self, pose: Pose) -> Mesh:
        """The dressed body in a pose."""
        points, normals = pose.skin(self._rest.points_m, self._rest.normals)
        parts = [replace(self._rest, points_m=points, normals=normals)]
        for bone, mesh in self._worn:
            rotation = pose.rotations[bone]
            shift = pose.joints_m[bone] - rotation @ self.body.joints_m[bone]
            parts.append(mesh.moved(rotation, shift))
        return join(parts)
