"""The clips in which nobody may be counted show what their names say."""

import csv
from itertools import product
from pathlib import Path

import numpy as np
import pytest

from demo_clips.render.body import load_body
from demo_clips.render.bystander import standing_pose
from demo_clips.render.clips import CLIPS
from demo_clips.render.decoy_clips import DECOY_CLIPS
from demo_clips.render.motion import Motion
from demo_clips.render.rider import SIDES, Fit, Rider
from demo_clips.render.room import SCREEN_BEFORE_M, SCREEN_M
from demo_clips.render.truth import JOINT_BONES

FOLDER = Path(__file__).parents[2] / "demo_clips"
SCENES = {scene.name: scene for scene in DECOY_CLIPS}
RIDER = Rider(load_body(), Fit())
LEG = ("lowerleg01", "foot")


def column(name, field):
    with (FOLDER / f"{name}.truth.csv").open(encoding="utf-8", newline="") as file:
        return np.array([float(row[field]) for row in csv.DictReader(file)])


def turns_of(name, frames=20):
    """Poses over a little more than one turn of the crank."""
    motion = Motion(SCENES[name], RIDER)
    return [RIDER.pose(motion.posture(frame)) for frame in range(frames)]


def test_they_are_among_the_clips_and_last_eight_seconds():
    assert set(DECOY_CLIPS) <= set(CLIPS)
    assert {scene.duration_s for scene in DECOY_CLIPS} == {8.0}


def behind_screen(point_m, camera):
    eye = camera.position_m
    share = (eye[2] - SCREEN_BEFORE_M) / (eye[2] - point_m[2])
    x, y, _ = eye + share * (point_m - eye)
    (back, front), (foot, top) = SCREEN_M
    return back < x < front and foot < y < top


def test_the_screen_hides_both_legs_and_nothing_above_the_hips():
    camera = SCENES["hidden_legs"].camera
    for pose in turns_of("hidden_legs"):
        for bone, side in product(LEG, SIDES):
            assert behind_screen(pose.joints_m[f"{bone}.{side}"], camera), (bone, side)
        for bone, side in product(("upperarm01", "lowerarm01", "wrist"), SIDES):
            assert not behind_screen(pose.joints_m[f"{bone}.{side}"], camera), (bone, side)


def test_the_screen_hides_the_skin_of_the_legs_from_the_knees_down():
    scene = SCENES["hidden_legs"]
    lower = RIDER.body.share("lowerleg", "foot", "toe") > 0.5
    rest = RIDER.body.vertices_m
    for pose in turns_of("hidden_legs")[::3]:
        points, _ = pose.skin(rest, rest)
        assert all(behind_screen(point, scene.camera) for point in points[lower][::7])


def test_the_picture_cuts_the_rider_above_or_below():
    for joint, axis, cut_above, cut_below in (
        ("shoulder", "y", True, False),
        ("hip", "y", False, False),
        ("knee", "y", False, True),
        ("ankle", "y", False, True),
    ):
        above, below = (
            column(f"half_body_{where}", f"{joint}_{axis}_px") for where in ("above", "below")
        )
        assert (above < 0).all() if cut_above else (above > 0).all(), joint
        assert (above < 480).all(), joint
        assert (below > 480).all() if cut_below else (below < 480).all(), joint
        assert (below > 0).all(), joint


def test_three_quarter_shows_the_whole_rider_from_behind():
    scene = SCENES["three_quarter"]
    assert scene.camera.yaw_deg == 45.0
    for pose in turns_of("three_quarter"):
        seen_px = scene.camera.project_px(np.array(list(pose.joints_m.values())))
        assert (seen_px > 20).all()
        assert (seen_px < np.array([640, 480]) - 20).all()
        assert pose.joints_m["head"][0] > scene.camera.position_m[0]


@pytest.mark.parametrize("name", [s.name for s in DECOY_CLIPS if not s.has_rider])
def test_without_a_rider_the_truth_says_that_nobody_rides(name):
    with (FOLDER / f"{name}.truth.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    for row in rows:
        assert {field for field, cell in row.items() if cell} == {"time_s", "crank_deg"}
    assert len({row["crank_deg"] for row in rows}) == 1


@pytest.mark.parametrize("name", [s.name for s in DECOY_CLIPS if s.has_rider])
def test_with_a_rider_the_truth_is_a_riders(name):
    for joint in JOINT_BONES:
        assert np.isfinite(column(name, f"{joint}_x_px")).all()
    turned_deg = np.diff(column(name, "crank_deg")) % 360
    assert (turned_deg > 10).all()


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_the_bystander_keeps_hands_and_feet_where_they_are_and_shifts_weight(sign):
    poses = [standing_pose(RIDER, time_s, sign) for time_s in np.arange(0, 8, 0.25)]
    near, far = ("R", "L") if sign > 0 else ("L", "R")
    for bone, least_m, most_m in (
        (f"wrist.{near}", 0.0, 0.005),
        (f"wrist.{far}", 0.0, 0.005),
        ("foot.R", 0.0, 0.005),
        ("foot.L", 0.0, 0.005),
        ("upperleg01.R", 0.03, 0.15),
    ):
        places = np.array([pose.joints_m[bone] for pose in poses])
        assert least_m <= np.ptp(places, axis=0).max() <= most_m, bone
    saddle, hood = poses[0].joints_m[f"wrist.{near}"], poses[0].joints_m[f"wrist.{far}"]
    assert np.linalg.norm(saddle[:2] - RIDER.hip_m[:2]) < 0.12
    np.testing.assert_allclose(hood, RIDER.hoods_wrist_m * [1, 1, -sign], atol=0.003)
    # Behind the bike as the camera sees it.
    assert all(sign * pose.joints_m["root"][2] < -0.3 for pose in poses)


def test_a_cyclist_as_large_as_life_is_on_the_poster():
    pytest.importorskip("moderngl", reason="drawing needs the extra 'clips'")
    from demo_clips.render.poster import CAMERA, SHOWN_M, poster, poster_picture
    from demo_clips.render.room import WALL_BEHIND_M

    try:
        picture = poster_picture(RIDER).astype(int)
    except Exception as fault:  # the graphics library raises plain Exception without a driver
        pytest.skip(f"no offscreen graphics here: {fault}")
    assert picture.shape == (CAMERA.height_px, CAMERA.width_px, 3)
    red, green, blue = np.moveaxis(picture, -1, 0)
    yellow = (red > 130) & (green > 100) & (blue < 0.5 * red)
    posed = RIDER.pose(RIDER.neutral_posture(75.0)).joints_m
    for bone in ("upperarm01.R", "spine03"):
        x, y = np.rint(CAMERA.project_px(posed[bone])).astype(int)
        assert yellow[y - 3 : y + 4, x - 3 : x + 4].mean() > 0.8, f"jersey at {bone}"
    sheet = poster("R").points_m
    np.testing.assert_allclose(np.ptp(sheet, axis=0)[:2], SHOWN_M)
    assert np.abs(sheet[:, 2] + WALL_BEHIND_M).max() < 0.01
    np.testing.assert_allclose(poster("L").points_m[:, 2], -sheet[:, 2])
