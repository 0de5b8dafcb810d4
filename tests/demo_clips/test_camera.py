"""The camera agrees with the program's own projection, turned any way and on either side."""

import numpy as np
import pytest

from demo_clips.render.body import load_body
from demo_clips.render.camera import CAMERAS, SideCamera
from demo_clips.render.clips import CLIPS
from demo_clips.render.motion import Motion
from demo_clips.render.rider import Fit, Rider
from demo_clips.render.truth import camera_record
from posewatch.core.plane import BikeView, Lens, project_px, view_from_angles
from posewatch.core.records import Side

TURNED = [
    SideCamera(side, yaw_deg=yaw, pitch_deg=pitch, roll_deg=roll)
    for side in ("R", "L")
    for yaw, pitch, roll in ((0, 0, 0), (8, 0, 0), (0, 5, 0), (0, 0, 4), (-12, 6, -3), (15, -4, 2))
]


def program_view(camera):
    """A record of the camera as the program would read it."""
    record = camera_record(camera)
    focal, centre = record["focal_length_px"], record["principal_point_px"]
    rotation = tuple(v for row in record["rotation_bike_to_camera"] for v in row)
    return Lens(*record["size_px"], *focal, *centre), BikeView(
        tuple(record["position_mm"]), rotation
    )


@pytest.mark.parametrize("camera", [*TURNED, *CAMERAS.values()], ids=str)
def test_points_fall_where_the_program_projects_them(camera):
    lens, view = program_view(camera)
    points_m = np.random.default_rng(4).uniform((-0.6, -0.3, -0.3), (0.7, 1.4, 0.3), (50, 3))
    towards_camera_mm = 1000 * points_m * (1.0, 1.0, camera.sign)
    np.testing.assert_allclose(
        camera.project_px(points_m), project_px(lens, view, towards_camera_mm), atol=1e-4
    )


@pytest.mark.parametrize("camera", TURNED, ids=str)
def test_the_angles_mean_what_the_program_means_by_them(camera):
    _, view = program_view(camera)
    assert view.side is (Side.RIGHT if camera.side == "R" else Side.LEFT)
    assert (view.yaw_deg, view.pitch_deg, view.roll_deg) == pytest.approx(
        (camera.yaw_deg, camera.pitch_deg, camera.roll_deg), abs=1e-6
    )
    same = view_from_angles(
        view.side, view.position_mm, camera.yaw_deg, camera.pitch_deg, camera.roll_deg
    )
    np.testing.assert_allclose(view.rotation, same.rotation, atol=1e-8)


@pytest.mark.parametrize("side", ["R", "L"])
@pytest.mark.parametrize(("yaw_deg", "pitch_deg"), [(0, 0), (5, 0), (15, 0), (-10, 8)])
def test_a_camera_moved_round_the_bike_keeps_its_aim_its_distance_and_its_scale(
    side, yaw_deg, pitch_deg
):
    square = SideCamera(side)
    moved = square.orbited(yaw_deg, pitch_deg)
    aim = np.array([square.forward_m, square.up_m, 0.0])
    assert np.linalg.norm(moved.position_m - aim) == pytest.approx(square.distance_m)
    np.testing.assert_allclose(moved.project_px(aim), (320, 240), atol=1e-9)
    assert moved.mm_per_px == pytest.approx(square.mm_per_px)
    _, view = program_view(moved)
    assert (view.yaw_deg, view.pitch_deg) == pytest.approx((yaw_deg, pitch_deg), abs=1e-6)


def test_looking_along_the_travel_is_looking_from_behind():
    assert SideCamera("R").orbited(10.0).position_m[0] < 0
    assert SideCamera("L").orbited(10.0).position_m[0] < 0


@pytest.mark.parametrize("name", ["yaw_0", "yaw_5", "yaw_10", "yaw_15"])
def test_the_whole_rider_and_both_pedals_are_in_the_picture(name):
    scene = next(scene for scene in CLIPS if scene.name == name)
    rider = Rider(load_body(), Fit())
    motion = Motion(scene, rider)
    for frame in range(0, 22, 2):
        pose = rider.pose(motion.posture(frame))
        crank_deg = motion.right_crank_deg[frame]
        seen = scene.camera.project_px(
            np.array([*pose.joints_m.values(), *(rider.pedal_m(crank_deg, side) for side in "RL")])
        )
        assert (seen > 30).all()
        assert (seen < np.array([640, 480]) - 30).all()
