"""Garments reach where the kit says, and loose ones hang as cloth does."""

from dataclasses import replace

import numpy as np
import pytest

from demo_clips.render.body import load_body
from demo_clips.render.dress import DressedBody
from demo_clips.render.garments import (
    garment_depths,
    leg_places,
    loose_garments,
    worn_thickness,
)
from demo_clips.render.kit import (
    LONG_TIGHTS,
    LOOSE_SHORTS,
    OTHER_JERSEY,
    PATTERNED_SHORTS,
    RIDER_KIT,
)
from demo_clips.render.rider import Fit, Rider
from demo_clips.render.shapes import vertex_normals

JERSEY, SHORTS = 0, 1


@pytest.fixture(scope="module")
def body():
    return load_body()


@pytest.fixture(scope="module")
def posed(body):
    """Points and normals of the bare body on the bike, near foot at the front."""
    rider = Rider(body, Fit())
    pose = rider.pose(rider.neutral_posture(90.0))
    return pose.skin(body.vertices_m, vertex_normals(body.vertices_m, body.triangles))


def at_height(body, joint, where):
    """Leg vertices of the right side within 2 cm of a joint's height, of which ``where`` holds."""
    points = body.vertices_m
    level = np.abs(points[:, 1] - body.joints_m[joint][1]) < 0.02
    return level & body.on_side("R") & where


def test_tights_cover_knee_and_shank_where_shorts_leave_them_bare(body):
    on_leg = body.share("upperleg", "lowerleg") > 0.9
    knee = at_height(body, "lowerleg01.R", on_leg)
    assert knee.any()
    assert (garment_depths(body, RIDER_KIT)[knee, SHORTS] < 0).all()
    assert (garment_depths(body, LONG_TIGHTS)[knee, SHORTS] > 0).all()


def test_a_longer_jersey_covers_the_hip_joint_from_behind(body):
    hip = at_height(body, "upperleg01.R", body.vertices_m[:, 0] < -0.05)
    assert hip.any()
    assert (garment_depths(body, RIDER_KIT)[hip, JERSEY] < 0).all()
    assert (garment_depths(body, OTHER_JERSEY)[hip, JERSEY] > 0).all()


def test_a_phone_bulges_on_the_outside_of_the_thigh_only(body):
    plain = replace(PATTERNED_SHORTS, has_thigh_pocket=False)
    bulge = worn_thickness(body, PATTERNED_SHORTS) - worn_thickness(body, plain)
    assert 0.007 < bulge.max() < 0.012
    places = leg_places(body)[bulge > 0]
    assert (places[:, 2] > 0).all()
    assert places[:, 0].min() > 0.09
    assert places[:, 0].max() < 0.31


def test_places_on_the_leg_start_at_the_hip_and_are_the_same_on_both_sides(body):
    places, points = leg_places(body), body.vertices_m
    right, left = body.on_side("R"), ~body.on_side("R")
    for side, chosen in (("R", right), ("L", left)):
        knee = body.joints_m[f"lowerleg01.{side}"]
        nearest = np.argmin(np.linalg.norm(points - knee, axis=1) + 10 * ~chosen)
        thigh_m = body.joints_m[f"upperleg01.{side}"][1] - knee[1]
        assert places[nearest, 0] == pytest.approx(thigh_m, abs=0.03)
        assert np.abs(places[nearest, 1:]).max() < 0.08


def test_tight_kits_have_no_loose_cloth(body):
    assert loose_garments(body, RIDER_KIT) == []
    assert loose_garments(body, LONG_TIGHTS) == []


@pytest.mark.parametrize("kit", [LOOSE_SHORTS, OTHER_JERSEY], ids=["shorts", "jersey"])
def test_loose_cloth_lies_on_top_and_hangs_below(kit, body, posed):
    (garment,) = loose_garments(body, kit)
    points, normals = posed
    cloth = garment.hung(points, normals)
    skin, facing = points[garment.vertices], normals[garment.vertices]
    off_m = np.einsum("vi,vi->v", cloth.points_m - skin, facing)
    assert off_m.min() > 0, "the cloth is outside the body"
    eased = garment.ease_m > 0.9 * garment.ease_m.max()
    top, bottom = eased & (facing[:, 1] > 0.8), eased & (facing[:, 1] < -0.8)
    assert top.any()
    assert bottom.any()
    assert off_m[top].mean() < 0.4 * garment.ease_m.max()
    assert off_m[bottom].mean() > 1.2 * garment.ease_m.max()


def test_loose_shorts_keep_under_the_jersey_and_above_the_knee(body):
    (garment,) = loose_garments(body, LOOSE_SHORTS)
    inside = garment.mesh.garments_m[:, SHORTS] > 0
    height = body.vertices_m[garment.vertices][inside][:, 1]
    hip, knee = body.joints_m["upperleg01.R"][1], body.joints_m["lowerleg01.R"][1]
    assert height.max() < hip + RIDER_KIT.hem_m + 0.03
    assert height.min() > knee


def test_loose_shorts_have_tight_ones_under_them(body):
    dressed = DressedBody(body, LOOSE_SHORTS)
    rider = Rider(body, Fit())
    mesh = dressed.posed(rider.pose(rider.neutral_posture(0.0)))
    skin = mesh.garments_m[: len(body.vertices_m), SHORTS]
    places = leg_places(body)
    thigh = (body.share("upperleg") > 0.9) & body.on_side("R")
    assert (skin[thigh & (places[:, 0] < 0.15)] > 0).all()
    assert (skin[thigh & (places[:, 0] > 0.30)] < 0).all()
