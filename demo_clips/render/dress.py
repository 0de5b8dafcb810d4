"""A dressed body: skin, hair and garments, shoes and helmet, as the mesh of any pose."""

from __future__ import annotations

from dataclasses import replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import ConvexHull

from demo_clips.render.body import Body
from demo_clips.render.garments import (
    garment_depths,
    leg_places,
    loose_garments,
    worn_thickness,
)
from demo_clips.render.kit import Kit
from demo_clips.render.shapes import GLOSS, SKIN, Mesh, box, ellipsoid, join, make_mesh, rgb, tube
from demo_clips.render.shapes import vertex_normals as normals_of
from demo_clips.render.skeleton import Pose, pitch

Array = NDArray[np.float64]

SHOE_GROWTH_M = 0.004


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
        bare = normals_of(body.vertices_m, body.triangles)
        points = body.vertices_m + bare * worn_thickness(body, kit)[:, None]
        rest = make_mesh(
            points,
            normals_of(points, body.triangles),
            body.triangles,
            _skin_colours(body, kit),
            SKIN,
        )
        self._rest = replace(
            rest, garments_m=garment_depths(body, kit.under()), places_m=leg_places(body)
        )
        self._loose = loose_garments(body, kit)

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
        parts += [garment.hung(points, normals) for garment in self._loose]
        for bone, mesh in self._worn:
            rotation = pose.rotations[bone]
            shift = pose.joints_m[bone] - rotation @ self.body.joints_m[bone]
            parts.append(mesh.moved(rotation, shift))
        return join(parts)
