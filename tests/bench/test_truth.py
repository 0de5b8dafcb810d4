"""The exact joints of a clip, as read from its table."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from posewatch.bench.truth import exact_tracking, read_truth
from posewatch.core.landmarks import HIP, JOINTS
from posewatch.core.plane import CameraProfile, JointDepths, Lens, plane_map, view_from_angles
from posewatch.core.records import Side
from posewatch.errors import BadInput

CLIPS = Path(__file__).parents[2] / "demo_clips"
#: A rider whose trunk rises 45 degrees, thigh points down 60, shank straight down (y down, px).
PLACES = {
    "shoulder": (200.0, 100.0),
    "elbow": (220.0, 150.0),
    "wrist": (260.0, 180.0),
    "hip": (100.0, 200.0),
    "knee": (150.0, 286.60254),
    "ankle": (150.0, 386.60254),
    "heel": (140.0, 390.0),
    "toe": (190.0, 395.0),
}


def write_table(path: Path, crank_deg: list[float], empty_rows: tuple[int, ...] = ()) -> Path:
    columns = ["time_s", "crank_deg", "hip_forward_mm", "event"]
    columns += [f"{joint}_{axis}_px" for joint in JOINTS for axis in "xy"]
    with path.open("w", newline="", encoding="utf-8") as file:
        table = csv.DictWriter(file, columns)
        table.writeheader()
        for number, angle in enumerate(crank_deg):
            row: dict[str, object] = {"time_s": number / 30, "crank_deg": angle, "event": ""}
            if number not in empty_rows:
                row["hip_forward_mm"] = -205.0
                for joint in JOINTS:
                    row[f"{joint}_x_px"], row[f"{joint}_y_px"] = PLACES[joint]
            table.writerow(row)
    return path


def test_times_angles_and_points_are_read(tmp_path: Path) -> None:
    table = write_table(tmp_path / "t.csv", [350.0, 355.0, 0.0, 5.0], empty_rows=(3,))
    truth = read_truth(table, Side.RIGHT)
    assert list(truth.t_ns) == [0, 33_333_333, 66_666_667, 100_000_000]
    assert np.degrees(truth.angle_rad) == pytest.approx([350.0, 355.0, 360.0, 365.0])
    assert truth.points_px[0, HIP] == pytest.approx((100.0, 200.0))
    assert np.isnan(truth.points_px[3]).all()
    assert truth.hip_forward_mm[:3] == pytest.approx([-205.0] * 3)
    assert truth.events == ("",) * 4


def test_exact_tracking_says_what_a_tracker_without_error_would(tmp_path: Path) -> None:
    table = write_table(tmp_path / "t.csv", [350.0, 353.0, 356.0, 359.0, 2.0], empty_rows=(4,))
    # Square to the bike, every joint in its middle plane: 4 mm a pixel.
    flat = JointDepths(*(0.0,) * len(JOINTS))
    view = view_from_angles(Side.RIGHT, (0.0, 0.0, 3440.0))
    plane = plane_map(CameraProfile(Lens(640, 480, 860.0, 860.0, 320.0, 240.0), view, flat))
    tracked = exact_tracking(read_truth(table, Side.RIGHT), plane)
    first = tracked[0]
    assert first.body.points[HIP] == pytest.approx((-880.0, 160.0))
    assert (first.side, first.body.seen, first.crank.measured) == (Side.RIGHT, True, True)
    assert first.body.torso_deg == pytest.approx(45.0)
    assert first.body.knee_flexion_deg == pytest.approx(30.0)
    # Thigh 60 degrees below, trunk 45 degrees above the horizontal.
    assert first.body.hip_included_deg == pytest.approx(105.0)
    # 3 degrees a picture at 30 pictures a second is 15 rpm.
    assert 60 * first.crank.speed_rad_s / (2 * np.pi) == pytest.approx(15.0, rel=1e-6)
    last = tracked[-1]
    assert (last.side, last.body.seen, last.crank.known) == (None, False, False)


@pytest.mark.parametrize("text", [None, "", "a,b\n1,2\n", "time_s,crank_deg\nx,y\n"])
def test_what_is_no_table_is_told(tmp_path: Path, text: str | None) -> None:
    path = tmp_path / "t.csv"
    if text is not None:
        path.write_text(text, encoding="utf-8")
    with pytest.raises(BadInput, match="is no table of a clip's truth"):
        read_truth(path, Side.RIGHT)


@pytest.mark.parametrize("path", sorted(CLIPS.glob("*.truth.csv")), ids=lambda path: path.name)
def test_shipped_tables_can_be_read(path: Path) -> None:
    side = Side.LEFT if path.name.startswith("left") else Side.RIGHT
    truth = read_truth(path, side)
    assert np.all(np.diff(truth.t_ns) > 0)
    seen = np.isfinite(truth.points_px).all(axis=(1, 2))
    nobody = path.name.split(".")[0] in ("empty_bike", "beside_bike", "poster")
    assert not seen.any() if nobody else seen.all()
    # A rider who faces in the direction of travel has shoulders ahead of the hips, on any side.
    ahead = truth.points_px[seen, 0, 0] - truth.points_px[seen, HIP, 0]
    assert np.all(ahead > 0 if side is Side.RIGHT else ahead < 0)
