"""The shipped truth files agree with themselves, with the camera and with the scenes."""

import csv
import json
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from demo_clips.render.body import load_body
from demo_clips.render.clips import CLIPS
from demo_clips.render.motion import Motion
from demo_clips.render.rider import Fit, Rider
from demo_clips.render.scene import FRAMES_PER_S
from demo_clips.render.truth import camera_profile, truth_row

FOLDER = Path(__file__).parents[2] / "demo_clips"
COLUMNS = (
    "time_s,crank_deg,shoulder_x_px,shoulder_y_px,elbow_x_px,elbow_y_px,wrist_x_px,wrist_y_px,"
    "hip_x_px,hip_y_px,knee_x_px,knee_y_px,ankle_x_px,ankle_y_px,heel_x_px,heel_y_px,"
    "toe_x_px,toe_y_px,knee_flexion_deg,hip_included_deg,torso_deg,"
    "hip_forward_mm,hip_up_mm,wrist_forward_mm,wrist_up_mm,event"
)
RIDDEN = [scene for scene in CLIPS if scene.has_rider]
by_name = {"argvalues": RIDDEN, "ids": lambda scene: scene.name}


@cache
def rows_of(name):
    with (FOLDER / f"{name}.truth.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def column(name, field):
    return np.array([float(row[field]) for row in rows_of(name)])


def points(name, joint):
    """(frames, 2) image points as x right, y up pixels."""
    return np.stack([column(name, f"{joint}_x_px"), -column(name, f"{joint}_y_px")], axis=1)


def angle_deg(first, corner, last):
    one, other = first - corner, last - corner
    cosine = np.sum(one * other, axis=1)
    cosine /= np.linalg.norm(one, axis=1) * np.linalg.norm(other, axis=1)
    return np.degrees(np.arccos(cosine))


@pytest.mark.parametrize("scene", CLIPS, ids=lambda scene: scene.name)
def test_one_row_a_frame_at_a_constant_rate_with_the_agreed_columns(scene):
    first_line = (FOLDER / f"{scene.name}.truth.csv").read_text(encoding="utf-8").split("\n")[0]
    assert first_line == COLUMNS
    rows = rows_of(scene.name)
    assert len(rows) == scene.frame_count
    assert [row["time_s"] for row in rows] == [f"{n / FRAMES_PER_S:.6f}" for n in range(len(rows))]
    cranks = column(scene.name, "crank_deg")
    assert ((cranks >= 0) & (cranks <= 360)).all()


def test_cells_of_the_rider_are_empty_without_a_rider():
    for row in rows_of("empty_bike"):
        assert {field for field, cell in row.items() if cell} == {"time_s", "crank_deg"}
    assert len(set(column("empty_bike", "crank_deg"))) == 1


@pytest.mark.parametrize("scene", **by_name)
def test_angles_are_those_of_the_projected_points(scene):
    shoulder, hip, knee, ankle = (
        points(scene.name, joint) for joint in ("shoulder", "hip", "knee", "ankle")
    )
    facing = np.array([1.0 if scene.camera.side == "R" else -1.0, 1.0])
    across, up = ((shoulder - hip) * facing).T
    for field, expected in (
        ("knee_flexion_deg", 180 - angle_deg(hip, knee, ankle)),
        ("hip_included_deg", angle_deg(shoulder, hip, knee)),
        ("torso_deg", np.degrees(np.arctan2(up, across))),
    ):
        np.testing.assert_allclose(column(scene.name, field), expected, atol=0.02)


@pytest.mark.parametrize("scene", **by_name)
def test_crank_angle_agrees_with_where_the_shoe_carries_the_pedal(scene):
    rider, side = Rider(load_body(), Fit()), scene.camera.side
    heel, toe = rider.shoe_ends_m(side)
    flat = rider.foot_rotation(side, 0.0)
    sole, ball = (flat @ (toe - heel))[:2], (flat @ (rider.cleat_m(side) - heel))[:2]
    along, above = (
        ball @ sole / (sole @ sole),
        (ball[1] * sole[0] - ball[0] * sole[1]) / (sole @ sole),
    )
    facing = np.array([1.0 if side == "R" else -1.0, 1.0])
    heels, toes = (points(scene.name, joint) * facing for joint in ("heel", "toe"))
    shoe = toes - heels
    pedal = heels + along * shoe + above * np.stack([-shoe[:, 1], shoe[:, 0]], axis=1)
    axis = camera_profile()["right_side" if side == "R" else "left_side"]["crank_axis_px"]
    # The foot is nearer to the camera than the crank axis is, so its circle's centre is shifted.
    centre = scene.camera.project_px(np.array([0, 0, scene.camera.sign * Fit().foot_spacing_m]))
    assert np.abs(centre - axis).max() < 7
    arm = pedal - centre * [facing[0], -1.0]
    found = np.degrees(np.arctan2(arm[:, 0], arm[:, 1]))
    gap = (found - column(scene.name, "crank_deg") + 180) % 360 - 180
    assert np.abs(gap).max() < 2.0


@pytest.mark.parametrize("scene", **by_name)
def test_places_in_millimetres_agree_with_pixels_and_camera(scene):
    profile = json.loads((FOLDER / "camera_profile.json").read_text(encoding="utf-8"))
    record = profile["right_side" if scene.camera.side == "R" else "left_side"]
    focal, middle = record["focal_length_px"][0], np.array(record["principal_point_px"])
    rotation = np.array(record["rotation_bike_to_camera"])
    depth_mm = {"hip": (100, 120), "wrist": (60, 260)}
    for joint, (least, most) in depth_mm.items():
        if joint == "wrist" and scene.events:
            continue  # a lifted hand leaves the plane of the bar
        seen = np.stack([column(scene.name, f"{joint}_{a}_px") for a in "xy"], axis=1)
        place = np.stack(
            [
                column(scene.name, f"{joint}_forward_mm"),
                column(scene.name, f"{joint}_up_mm"),
                np.full(len(seen), (least + most) / 2),
            ],
            axis=1,
        )
        camera = (place - record["position_mm"]) @ rotation.T
        expected = middle + focal * camera[:, :2] / camera[:, 2:]
        assert np.abs(seen - expected).max() < 4


def test_the_camera_profile_file_is_that_of_the_clips():
    stored = json.loads((FOLDER / "camera_profile.json").read_text(encoding="utf-8"))
    assert stored == camera_profile()
    assert stored["right_side"]["scale_mm_per_px"] == pytest.approx(4.07, abs=0.05)


@pytest.mark.parametrize("scene", CLIPS, ids=lambda scene: scene.name)
def test_events_stand_where_the_scene_has_them(scene):
    rows = rows_of(scene.name)
    for event in scene.events:
        times = [float(row["time_s"]) for row in rows if row["event"] == event.name]
        assert times[0] == pytest.approx(event.start_s, abs=1 / FRAMES_PER_S)
        assert times[-1] == pytest.approx(event.end_s, abs=1 / FRAMES_PER_S)
    named = {row["event"] for row in rows} - {""}
    behind = {"someone walks behind"} if scene.walker_s else set()
    assert named == {event.name for event in scene.events} | behind


def shown(name, field, event_name):
    """Mean of a field while an event stands in full, less its mean outside all events."""
    scene = next(scene for scene in CLIPS if scene.name == name)
    event = next(event for event in scene.events if event.name == event_name)
    values, time_s = column(name, field), column(name, "time_s")
    full_s = event.start_s + event.rise_s
    standing = (time_s >= full_s) & (time_s < full_s + event.hold_s)
    calm = np.array([row["event"] == "" for row in rows_of(name)])
    return values[standing].mean() - values[calm].mean()


def test_events_show_in_the_truth():
    assert shown("hoods_drift", "torso_deg", "torso sinks") == pytest.approx(-7.0, abs=0.7)
    slid_mm = shown("hoods_drift", "hip_forward_mm", "hip slides forward")
    assert slid_mm == pytest.approx(20.0, abs=3.0)
    kept_deg = shown("hoods_drift", "torso_deg", "hip slides forward")
    assert kept_deg == pytest.approx(0.0, abs=0.7)
    assert shown("hoods_interruptions", "hip_up_mm", "out of the saddle") > 85
    assert shown("hoods_interruptions", "wrist_up_mm", "hand off") > 200


def test_the_drops_are_well_below_the_hoods():
    wrist_mm, torso_deg = (
        column("hoods_reference", field).mean() - column("drops_reference", field).mean()
        for field in ("wrist_up_mm", "torso_deg")
    )
    assert 110 < wrist_mm < 140
    assert 8 < torso_deg < 10.5


@pytest.mark.parametrize("name", ["hoods_interruptions", "left_side_steady"])
def test_the_program_still_makes_the_shipped_truth(name):
    scene = next(scene for scene in CLIPS if scene.name == name)
    rider = Rider(load_body(), scene.fit)
    motion = Motion(scene, rider)
    for frame in (0, 201, 660, 925):
        made = truth_row(motion, frame, rider.pose(motion.posture(frame)))
        shipped = rows_of(name)[frame]
        assert made["event"] == shipped["event"]
        for field in COLUMNS.split(",")[:-1]:
            assert float(made[field]) == pytest.approx(float(shipped[field]), abs=0.02)
