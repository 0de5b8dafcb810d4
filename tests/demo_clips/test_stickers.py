"""Stickers sit over the joints' axes, flat on what is worn, and move with the bones."""

import numpy as np
import pytest

from demo_clips.render.body import load_body
from demo_clips.render.dress import DressedBody
from demo_clips.render.kit import LONG_TIGHTS, LOOSE_SHORTS, OTHER_JERSEY, RIDER_KIT
from demo_clips.render.rider import Fit, Rider
from demo_clips.render.shapes import rgb
from demo_clips.render.stickers import COLOUR, RADIUS_M, STICKER_BONES, STICKERS, Stickers

KITS = {
    "usual": RIDER_KIT,
    "tights": LONG_TIGHTS,
    "loose shorts": LOOSE_SHORTS,
    "jersey": OTHER_JERSEY,
}
CRANKS_DEG = (20.0, 95.0, 170.0, 290.0)


@pytest.fixture(scope="module")
def rider():
    return Rider(load_body(), Fit())


@pytest.fixture(scope="module", params=KITS, ids=str)
def worn(request, rider):
    """(dressed body, its stickers on the right side)."""
    dress = DressedBody(rider.body, KITS[request.param])
    return dress, Stickers(rider, dress, "R")


def posed(rider, crank_deg):
    return rider.pose(rider.neutral_posture(crank_deg))


@pytest.mark.parametrize("crank_deg", CRANKS_DEG)
def test_a_joints_sticker_is_straight_outward_of_the_joint(worn, rider, crank_deg):
    pose = posed(rider, crank_deg)
    centres = worn[1].centres_m(pose, crank_deg)
    assert tuple(centres) == STICKERS
    for name, bone in STICKER_BONES.items():
        away = centres[name] - pose.joints_m[f"{bone}.R"]
        assert 0.03 < away[2] < 0.09, name
        assert np.hypot(*away[:2]) < 0.004, name


def test_a_sticker_is_carried_stiffly_by_the_bone_of_its_joint(worn, rider):
    for name, bone in STICKER_BONES.items():
        held = []
        for crank_deg in CRANKS_DEG:
            pose = posed(rider, crank_deg)
            away = worn[1].centres_m(pose, crank_deg)[name] - pose.joints_m[f"{bone}.R"]
            held.append(pose.rotations[f"{bone}.R"].T @ away)
        np.testing.assert_allclose(held, np.tile(held[0], (len(held), 1)), atol=1e-12)


@pytest.mark.parametrize("crank_deg", CRANKS_DEG)
def test_nothing_of_the_rider_covers_a_sticker(worn, rider, crank_deg):
    dress, stickers = worn
    pose = posed(rider, crank_deg)
    body = dress.posed(pose).points_m
    mesh = stickers.mesh(pose, crank_deg)
    for name, centre in stickers.centres_m(pose, crank_deg).items():
        beside = (np.hypot(*(body - centre)[:, :2].T) < RADIUS_M) & (body[:, 2] > 0.05)
        face = mesh.points_m[np.linalg.norm(mesh.points_m - centre, axis=1) < RADIUS_M + 1e-3]
        assert len(face) > 20
        if beside.any():
            # Against the sticker's own plane: it leans with the surface that it is stuck to.
            normal = np.linalg.svd(face - face.mean(axis=0))[2][2]
            normal = normal * np.sign(normal[2])
            assert ((body[beside] - centre) @ normal).max() < 1e-3, name
            assert ((body[beside] - centre) @ normal).max() > -0.035, name


def test_stickers_are_round_plain_and_as_large_as_told(worn, rider):
    pose = posed(rider, 50.0)
    mesh = worn[1].mesh(pose, 50.0)
    coloured = np.all(np.isclose(mesh.colours, rgb(COLOUR)), axis=1)
    for centre in worn[1].centres_m(pose, 50.0).values():
        from_centre = np.linalg.norm(mesh.points_m[coloured] - centre, axis=1)
        own = from_centre[from_centre < 0.02]
        assert own.max() == pytest.approx(RADIUS_M, abs=1e-4)


def test_the_pedals_sticker_turns_with_the_crank_and_is_clear_of_the_shoe(worn, rider):
    dress, stickers = worn
    for crank_deg in CRANKS_DEG:
        pose = posed(rider, crank_deg)
        centre = stickers.centres_m(pose, crank_deg)["pedal"]
        turned = np.radians(crank_deg)
        expected = Fit().crank_length_m * np.array([np.sin(turned), np.cos(turned)])
        np.testing.assert_allclose(centre[:2], expected, atol=1e-12)
        points = dress.posed(pose).points_m
        beside = np.hypot(*(points - centre)[:, :2].T) < 0.06
        assert beside.any()
        assert points[beside][:, 2].max() < centre[2]


def test_the_left_sides_stickers_mirror_the_rights(rider):
    dress = DressedBody(rider.body, RIDER_KIT)
    right, left = Stickers(rider, dress, "R"), Stickers(rider, dress, "L")
    mine = right.centres_m(posed(rider, 0.0), 0.0)
    theirs = left.centres_m(posed(rider, 180.0), 180.0)
    for name in STICKERS:
        np.testing.assert_allclose(theirs[name] * [1, 1, -1], mine[name], atol=6e-3)
