"""Garments on the rest body: where they reach, how thick they are, and how loose ones hang."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from demo_clips.render.body import Body
from demo_clips.render.kit import Kit
from demo_clips.render.shapes import CLOTH, Mesh, make_mesh, rgb
from demo_clips.render.shapes import vertex_normals as normals_of

Array = NDArray[np.float64]

ARM_BONES = ("upperarm", "lowerarm", "wrist", "finger")
JERSEY_THICKNESS_M = 0.007
CLOTH_THICKNESS_M = 0.002
PHONE_THICKNESS_M = 0.010
TUCKED_M = 0.006  # loose shorts reach this far up under the jersey
SOCK_FROM = 0.66  # top of the sock as a share of the shank, from the knee
# The pocket on the outside of the thigh, as places on the leg; the renderer draws its edges.
POCKET_DOWN_M = (0.115, 0.285)
POCKET_HALF_WIDTH_M = 0.044


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
    behind = smooth((joints["upperleg01.R"][0] + 0.06 - points[:, 0]) / 0.10)
    hem = height - (joints["upperleg01.R"][1] + kit.hem_m - kit.tail_m * behind)
    jersey = np.where(on_arm, (kit.sleeve_share - arm) * arm_m, np.minimum(hem, collar))
    on_leg = body.share("upperleg", "lowerleg", "foot", "pelvis") > 0.5
    socks = np.where(on_leg, (leg - 1 - SOCK_FROM) * shank_m, -1.0)
    return np.column_stack([jersey, shorts, socks])


def smooth(share: Array) -> Array:
    """0 below 0, 1 above 1, and a cubic with level ends between."""
    held = np.clip(share, 0.0, 1.0)
    stepped: Array = held * held * (3 - 2 * held)
    return stepped


def leg_places(body: Body) -> Array:
    """(V, 3) each vertex's place on its leg: down from the hip joint, forward, outward of it."""
    places = np.zeros_like(body.vertices_m)
    for side, sign in (("R", 1.0), ("L", -1.0)):
        hip, knee = (body.joints_m[f"{bone}.{side}"] for bone in ("upperleg01", "lowerleg01"))
        chosen = body.on_side(side)
        points = body.vertices_m[chosen]
        down = (hip[1] - points[:, 1]) / (hip[1] - knee[1])
        aside = points - (hip + down[:, None] * (knee - hip))
        places[chosen] = np.column_stack([hip[1] - points[:, 1], aside[:, 0], sign * aside[:, 2]])
    return places


def worn_thickness(body: Body, kit: Kit) -> Array:
    """(V,) how far tight garments and what is in their pockets stand off the skin, metres."""
    points, places = body.vertices_m, leg_places(body)
    jersey, shorts, socks = garment_depths(body, kit.under()).T
    folds = 0.0012 * np.sin(70 * points[:, 1] + 3 * np.sin(40 * points[:, 0]))
    thickness: Array = JERSEY_THICKNESS_M * np.clip(jersey / 0.02, 0, 1)
    thickness += folds * (jersey > 0.02)
    thickness += CLOTH_THICKNESS_M * (((shorts > 0) & (jersey <= 0)) | (socks > 0))
    if kit.has_thigh_pocket:
        top, bottom = POCKET_DOWN_M
        down, forward, outward = places.T
        within = np.minimum(down - top, bottom - down)
        within = np.minimum(within, POCKET_HALF_WIDTH_M - np.abs(forward))
        thickness += PHONE_THICKNESS_M * smooth(within / 0.015 + 0.5) * (outward > 0.02)
    if kit.leg_folds_m:
        leg, _ = _limb_shares(body, points)
        bunched = np.exp(-(((leg - 1.03) / 0.10) ** 2)) + np.exp(-(((leg - 1.86) / 0.10) ** 2))
        waves = 1 + np.sin(260 * points[:, 1] + 25 * places[:, 1])
        thickness += kit.leg_folds_m * bunched * waves * (shorts > 0)
    return thickness


@dataclass(frozen=True)
class LooseGarment:
    """A garment that hangs off the body: its own layer of cloth, seen from both sides.

    Attributes:
        mesh: the cloth at rest.
        vertices: (K,) vertex of the body under each vertex of the cloth.
        ease_m: (K,) how far the cloth could be pulled away.
        folds_m: (K,) standing folds, along the normal.
    """

    mesh: Mesh
    vertices: NDArray[np.integer[Any]]
    ease_m: Array
    folds_m: Array

    def hung(self, points_m: Array, normals: Array) -> Mesh:
        """The cloth over the posed body (V, 3): it lies on top, stands off aside, hangs below."""
        facing = normals[self.vertices]
        facing = facing / np.linalg.norm(facing, axis=1, keepdims=True)
        below = (1 - facing[:, 1]) / 2
        off = self.ease_m * (0.15 + 0.6 * below) + self.folds_m * (0.3 + 0.7 * below)
        cloth = points_m[self.vertices] + facing * (off + 1.5 * CLOTH_THICKNESS_M)[:, None]
        cloth[:, 1] -= self.ease_m * below**2
        outside = self.mesh.triangles[: len(self.mesh.triangles) // 2]
        return replace(self.mesh, points_m=cloth, normals=normals_of(cloth, outside))


def _layer(body: Body, depths: Array, garment: int, ease: Array, folds: Array) -> LooseGarment:
    """The triangles of the body inside one garment (column of depths) as a layer of cloth."""
    inside = (depths[:, garment] > 0)[body.triangles].any(axis=1)
    vertices, corners = np.unique(body.triangles[inside], return_inverse=True)
    outside = corners.reshape(-1, 3).astype(np.int32)
    count = len(vertices)
    mesh = make_mesh(
        body.vertices_m[vertices], np.zeros((count, 3)), outside, rgb("#000000"), CLOTH
    )
    only = np.full((count, 3), -1.0)
    only[:, garment] = depths[vertices, garment]
    mesh = replace(
        mesh,
        triangles=np.concatenate([outside, outside[:, ::-1]]),
        garments_m=only,
        places_m=leg_places(body)[vertices],
    )
    return LooseGarment(mesh, vertices, ease[vertices], folds[vertices])


def loose_garments(body: Body, kit: Kit) -> list[LooseGarment]:
    """The garments of a kit that hang off the body; none where all are tight."""
    points, depths = body.vertices_m, garment_depths(body, kit)
    down, forward, outward = leg_places(body).T
    layers = []
    if kit.shorts_ease_m:
        waist = body.joints_m["upperleg01.R"][1] + kit.hem_m + TUCKED_M
        # Steep, so that no visible hem is drawn along the waist.
        depths[:, 1] = np.minimum(depths[:, 1], 8 * (waist - points[:, 1]))
        loose = smooth((down + 0.03) / 0.20)
        folds = 0.16 * np.sin(75 * forward + 45 * outward + 14 * down)
        folds *= kit.shorts_ease_m * loose
        layers.append(_layer(body, depths, 1, kit.shorts_ease_m * loose, folds))
    if kit.jersey_ease_m:
        on_arm = body.share(*ARM_BONES)
        loose = smooth(depths[:, 0] / 0.10 + 0.2) * (1 - 0.4 * on_arm)
        folds = 0.18 * np.sin(60 * points[:, 1] + 40 * points[:, 0] + 30 * points[:, 2])
        folds *= kit.jersey_ease_m * loose
        layers.append(_layer(body, depths, 0, kit.jersey_ease_m * loose, folds))
    return layers
