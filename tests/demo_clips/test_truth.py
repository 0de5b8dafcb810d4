"""The shipped truth files agree with themselves, with the camera and with the scenes."""

import csv
import json
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from demo_clips.render.body import load_body
from demo_clips.render.camera import CAMERAS
from demo_clips.render.clips import CLIPS
from demo_clips.render.dress import DressedBody
from demo_clips.render.motion import Motion
from demo_clips.render.rider import Fit, Rider
from demo_clips.render.stickers import Stickers
from demo_clips.render.truth import camera_profile, truth_row

FOLDER = Path(__file__).parents[2] / "demo_clips"
COLUMNS = (
    "time_s,crank_deg,shoulder_x_px,shoulder_y_px,elbow_x_px,elbow_y_px,wrist_x_px,wrist_y_px,"
    "hip_x_px,hip_y_px,knee_x_px,knee_y_px,ankle_x_px,ankle_y_px,heel_x_px,heel_y_px,"
    "toe_x_px,toe_y_px,knee_flexion_deg,hip_included_deg,torso_deg,"
    "hip_forward_mm,hip_up_mm,wrist_forward_mm,wrist_up_mm,event"
)
DOT_COLUMNS = (
    "dot_shoulder_x_px,dot_shoulder_y_px,dot_hip_x_px,dot_hip_y_px,dot_knee_x_px,dot_knee_y_px,"
    "dot_ankle_x_px,dot_ankle_y_px,dot_pedal_x_px,dot_pedal_y_px"
)
RIDDEN = [scene for scene in CLIPS if scene.has_rider]
by_name = {"argvalues": RIDDEN, "ids": lambda scene: scene.name}
#: Seen square from the rider's own height: a shoe's ends, one nearer than the other, hardly shift.
SQUARE = [s for s in RIDDEN if s.camera in (CAMERAS["right_side"], CAMERAS["left_side"])]


@cache
def rows_of(name):
    with (FOLDER / f"{name}.truth.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def column(name, field):
    return np.array([float(row[field]) for row in rows_of(name)])


def points(name, joint):
    """(frames, 2) image points as x right, y up pixels."""
    return np.stack([column(name, f"{joint}_x_px"), -column(name, f"{joint}_y_px")], axis=1)


def profile_of(scene):
    """The record of a scene's camera in the shipped profile file."""
    profile = json.loads((FOLDER / "camera_profile.json").read_text(encoding="utf-8"))
    name = next(name for name, camera in CAMERAS.items() if camera == scene.camera)
    return profile[name]


def angle_deg(first, corner, last):
    one, other = first - corner, last - corner
    cosine = np.sum(one * other, axis=1)
    cosine /= np.linalg.norm(one, axis=1) * np.linalg.norm(other, axis=1)
    return np.degrees(np.arccos(cosine))


@pytest.mark.parametrize("scene", CLIPS, ids=lambda scene: scene.name)
def test_one_row_a_frame_at_a_constant_rate_with_the_agreed_columns(scene):
    first_line = (FOLDER / f"{scene.name}.truth.csv").read_text(encoding="utf-8").split("\n")[0]
    with_dots = COLUMNS.replace("event", f"{DOT_COLUMNS},event")
    assert first_line == (with_dots if scene.has_dots else COLUMNS)
    rows = rows_of(scene.name)
    assert len(rows) == scene.frame_count
    times = [f"{n / scene.frames_per_s:.6f}" for n in range(len(rows))]
    assert [row["time_s"] for row in rows] == times
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


@pytest.mark.parametrize("scene", SQUARE, ids=lambda scene: scene.name)
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
    # The foot is nearer to the camera than the crank axis is, so its circle's centre is shifted.
    centre = scene.camera.project_px(np.array([0, 0, scene.camera.sign * Fit().foot_spacing_m]))
    assert np.abs(centre - profile_of(scene)["crank_axis_px"]).max() < 7
    arm = pedal - centre * [facing[0], -1.0]
    found = np.degrees(np.arctan2(arm[:, 0], arm[:, 1]))
    gap = (found - column(scene.name, "crank_deg") + 180) % 360 - 180
    assert np.abs(gap).max() < 2.0


@pytest.mark.parametrize("scene", **by_name)
def test_places_in_millimetres_agree_with_pixels_and_camera(scene):
    record = profile_of(scene)
    focal, middle = record["focal_length_px"][0], np.array(record["principal_point_px"])
    rotation = np.array(record["rotation_bike_to_camera"])
    for joint, depth_mm in (("hip", 110.0), ("wrist", 215.0)):
        if joint == "wrist" and scene.events:
            continue  # a lifted hand leaves the plane of the bar
        seen = np.stack([column(scene.name, f"{joint}_{a}_px") for a in "xy"], axis=1)
        place = np.stack(
            [
                column(scene.name, f"{joint}_forward_mm"),
                column(scene.name, f"{joint}_up_mm"),
                np.full(len(seen), depth_mm),
            ],
            axis=1,
        )
        camera = (place - record["position_mm"]) @ rotation.T
        expected = middle + focal * camera[:, :2] / camera[:, 2:]
        assert np.abs(seen - expected).max() < 2


def test_the_camera_profile_file_is_that_of_the_clips():
    stored = json.loads((FOLDER / "camera_profile.json").read_text(encoding="utf-8"))
    assert stored == camera_profile(CAMERAS)
    assert stored["right_side"]["scale_mm_per_px"] == pytest.approx(4.07, abs=0.05)


@pytest.mark.parametrize("scene", CLIPS, ids=lambda scene: scene.name)
def test_events_stand_where_the_scene_has_them(scene):
    rows = rows_of(scene.name)
    told = [event for event in scene.events if event.name]
    frame_s = 1 / scene.frames_per_s
    for event in told:
        within = np.array(
            [
                row["event"] == event.name
                for row in rows
                if event.start_s - frame_s < float(row["time_s"]) < event.end_s + frame_s
            ]
        )
        assert within.sum() * frame_s == pytest.approx(event.end_s - event.start_s, abs=frame_s)
    named_frames = sum(row["event"] in {event.name for event in told} for row in rows)
    told_s = sum(event.end_s - event.start_s for event in told)
    assert named_frames * frame_s == pytest.approx(told_s, abs=frame_s * max(len(told), 1))
    named = {row["event"] for row in rows} - {""}
    behind = {"someone walks behind"} if scene.walker_s else set()
    assert named == {event.name for event in told} | behind


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


def test_the_yawed_clips_show_one_ride():
    for other in ("yaw_5", "yaw_10", "yaw_15"):
        for field in ("crank_deg", "hip_forward_mm", "hip_up_mm", "wrist_forward_mm"):
            np.testing.assert_array_equal(column(other, field), column("yaw_0", field))
        assert np.abs(column(other, "hip_x_px") - column("yaw_0", "hip_x_px")).max() > 1


def test_the_truth_of_one_ride_is_the_same_in_every_kit():
    first, *others = (scene.name for scene in CLIPS if scene.name.startswith("kit_"))
    assert len(others) == 5
    for other in others:
        for mine, theirs in zip(rows_of(first), rows_of(other), strict=True):
            for field in COLUMNS.split(","):
                assert mine[field] == theirs[field]


@pytest.mark.parametrize("scene", [s for s in CLIPS if s.has_dots], ids=lambda scene: scene.name)
def test_dots_stay_by_their_joints_whatever_covers_them(scene):
    # The dot is some centimetres nearer to the camera than the joint and so seen beside it. The
    # shoulder's goes with the upper arm when that swings back.
    calm = np.array([row["event"] == "" for row in rows_of(scene.name)])
    for joint, limit_px in (("shoulder", 3.5), ("hip", 2.5), ("knee", 2.5), ("ankle", 3.5)):
        away = np.linalg.norm(
            points(scene.name, f"dot_{joint}") - points(scene.name, joint), axis=1
        )
        assert np.isfinite(away).all()
        assert away[calm | (joint != "shoulder")].max() < limit_px, joint


@pytest.mark.parametrize(
    "name",
    ["hoods_interruptions", "left_side_steady", "kit_loose_shorts", "camera_60_fps", "yaw_15"],
)
def test_the_program_still_makes_the_shipped_truth(name):
    scene = next(scene for scene in CLIPS if scene.name == name)
    rider = Rider(load_body(), scene.fit)
    motion = Motion(scene, rider)
    dress = DressedBody(rider.body, scene.kit)
    stickers = Stickers(rider, dress, scene.camera.side) if scene.has_dots else None
    for frame in (0, 201, 290, scene.frame_count - 1):
        made = truth_row(motion, frame, rider.pose(motion.posture(frame)), stickers)
        shipped = rows_of(name)[frame]
        assert made.keys() == shipped.keys()
        assert made["event"] == shipped["event"]
        for field in made.keys() - {"event"}:
            assert float(made[field]) == pytest.approx(float(shipped[field]), abs=0.02)
