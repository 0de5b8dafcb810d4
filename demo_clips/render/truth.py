"""The truth of a clip: crank angle, projected joint centres and their angles, frame by frame."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from demo_clips.render.camera import SideCamera
from demo_clips.render.motion import Motion
from demo_clips.render.rider import Rider
from demo_clips.render.skeleton import Pose
from demo_clips.render.stickers import STICKERS, Stickers

Array = NDArray[np.float64]

JOINT_BONES = {
    "shoulder": "upperarm01",
    "elbow": "lowerarm01",
    "wrist": "wrist",
    "hip": "upperleg01",
    "knee": "lowerleg01",
    "ankle": "foot",
}
POINTS = (*JOINT_BONES, "heel", "toe")
POINT_COLUMNS = [f"{point}_{axis}_px" for point in POINTS for axis in ("x", "y")]
ANGLE_COLUMNS = ["knee_flexion_deg", "hip_included_deg", "torso_deg"]
PLACE_COLUMNS = ["hip_forward_mm", "hip_up_mm", "wrist_forward_mm", "wrist_up_mm"]
RIDER_COLUMNS = [*POINT_COLUMNS, *ANGLE_COLUMNS, *PLACE_COLUMNS]
DOT_COLUMNS = [f"dot_{name}_{axis}_px" for name in STICKERS for axis in ("x", "y")]


def columns(has_dots: bool) -> list[str]:
    """Columns of a truth file; those of the sticker dots only where there are any."""
    dots = DOT_COLUMNS if has_dots else []
    return ["time_s", "crank_deg", *RIDER_COLUMNS, *dots, "event"]


def near_points_m(rider: Rider, pose: Pose, side: str) -> dict[str, Array]:
    """Joint centres and shoe ends (3,) of one side of the posed rider."""
    points = {name: pose.joints_m[f"{bone}.{side}"] for name, bone in JOINT_BONES.items()}
    heel, toe = rider.shoe_ends_m(side)
    points["heel"] = pose.carried(f"foot.{side}", heel)
    points["toe"] = pose.carried(f"foot.{side}", toe)
    return points


def angle_between_deg(first: Array, corner: Array, last: Array) -> float:
    """Angle at ``corner`` between two image points, 0 to 180."""
    one, other = first - corner, last - corner
    crossed = one[0] * other[1] - one[1] * other[0]
    return float(np.degrees(np.arctan2(abs(crossed), one @ other)))


def image_angles_deg(points_px: dict[str, Array], side: str) -> dict[str, float]:
    """Knee flexion, hip included and torso angle of projected points (x right, y down)."""
    across, down = points_px["shoulder"] - points_px["hip"]
    forward = across if side == "R" else -across
    return {
        "knee_flexion_deg": 180
        - angle_between_deg(points_px["hip"], points_px["knee"], points_px["ankle"]),
        "hip_included_deg": angle_between_deg(
            points_px["shoulder"], points_px["hip"], points_px["knee"]
        ),
        "torso_deg": float(np.degrees(np.arctan2(-down, forward))),
    }


def truth_row(
    motion: Motion, frame: int, pose: Pose | None, stickers: Stickers | None = None
) -> dict[str, str]:
    """One row of the truth file; cells of the rider stay empty without a pose."""
    time_s = float(motion.time_s[frame])
    row = dict.fromkeys(columns(stickers is not None), "")
    row["time_s"] = f"{time_s:.6f}"
    row["crank_deg"] = f"{motion.near_crank_deg[frame] % 360:.4f}"
    row["event"] = motion.scene.event_at(time_s)
    if pose is None:
        return row
    camera = motion.scene.camera
    points_m = near_points_m(motion.rider, pose, camera.side)
    points_px = {name: camera.project_px(point) for name, point in points_m.items()}
    for name, (x, y) in points_px.items():
        row[f"{name}_x_px"], row[f"{name}_y_px"] = f"{x:.3f}", f"{y:.3f}"
    if stickers is not None:
        right_crank_deg = float(motion.right_crank_deg[frame])
        for name, centre in stickers.centres_m(pose, right_crank_deg).items():
            x, y = camera.project_px(centre)
            row[f"dot_{name}_x_px"], row[f"dot_{name}_y_px"] = f"{x:.3f}", f"{y:.3f}"
    for name, angle in image_angles_deg(points_px, camera.side).items():
        row[name] = f"{angle:.3f}"
    for name in ("hip", "wrist"):
        row[f"{name}_forward_mm"] = f"{1000 * points_m[name][0]:.2f}"
        row[f"{name}_up_mm"] = f"{1000 * points_m[name][1]:.2f}"
    return row


def truth_text(rows: list[dict[str, str]]) -> str:
    """The truth file as text, of one row or more."""
    out = io.StringIO()
    writer = csv.DictWriter(out, list(rows[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()


CONVENTION = (
    "Bike frame: origin at the crank axis in the bike's middle plane, x in the direction "
    "of travel, y up, z towards the camera, millimetres. Camera axes: x right, y down, "
    "z along the lens axis into the scene. point_camera = rotation_bike_to_camera * "
    "(point_bike - position_mm); pixel = principal_point + focal_length * (x, y) / z, "
    "with (0, 0) at the outer corner of the top left pixel. scale_mm_per_px holds in "
    "the bike's middle plane, where the lens axis meets it."
)
CAMERA_NAMES = (
    "A camera called ..._yaw_N is turned by N degrees to look along the travel and still aimed at "
    "the rider's middle; ..._low and ..._high are square cameras that stand too low and too high."
)


def _plain(values: Array) -> list[float]:
    """Rounded to what a float keeps of it, and no minus before a zero."""
    return [round(float(value), 9) + 0.0 for value in values]


def camera_record(camera: SideCamera) -> dict[str, Any]:
    """The exact camera, as ``camera_profile.json`` holds it.

    The bike frame of the record has z towards the camera on either side, so a left-side clip is
    the mirror image of a right-side one and its image x axis points against the travel.
    """
    towards_camera = np.array([1.0, 1.0, camera.sign])
    return {
        "size_px": [camera.width_px, camera.height_px],
        "focal_length_px": [camera.focal_px, camera.focal_px],
        "principal_point_px": list(camera.principal_px),
        "distortion": [0.0, 0.0, 0.0, 0.0, 0.0],
        "position_mm": _plain(1000 * camera.position_m * towards_camera),
        "rotation_bike_to_camera": [_plain(row) for row in camera.bike_to_camera * towards_camera],
        "scale_mm_per_px": camera.mm_per_px,
        "crank_axis_px": [round(float(v), 3) for v in camera.project_px(np.zeros(3))],
    }


def camera_profile(cameras: Mapping[str, SideCamera]) -> dict[str, Any]:
    """The cameras of the shipped clips by name, with the convention in words."""
    return {
        "convention": f"{CONVENTION} {CAMERA_NAMES}",
        **{name: camera_record(camera) for name, camera in cameras.items()},
    }
