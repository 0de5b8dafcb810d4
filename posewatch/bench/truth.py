"""The exact joints of a rendered clip, in the form that the core takes."""

from __future__ import annotations

import csv
import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from posewatch.core import belief
from posewatch.core.crank import CrankReading
from posewatch.core.doubts import Doubt
from posewatch.core.landmarks import HIP, JOINTS
from posewatch.core.plane import PlaneMap
from posewatch.core.records import FloatArray, Side
from posewatch.core.timebase import to_ns
from posewatch.core.tracking import Tracked
from posewatch.errors import BadInput


@dataclass(frozen=True, slots=True, eq=False)
class Truth:
    """One clip's exact values.

    t_ns: (n,) int64. angle_rad: (n,) crank angle counting on over turns. points_px: (n, 8, 2)
    image px of the near side, NaN without a rider. events: what was on at each time.
    hip_forward_mm: (n,) of the near hip, ahead of the crank axis.
    """

    side: Side
    t_ns: np.ndarray
    angle_rad: FloatArray
    points_px: FloatArray
    hip_forward_mm: FloatArray
    events: tuple[str, ...]


def read_truth(path: Path, side: Side) -> Truth:
    """Read a clip's truth.csv; side is the rider's side that the camera sees.

    Raises:
        BadInput: the file is missing or not such a table.
    """
    try:
        with path.open(newline="", encoding="utf-8") as file:
            rows = list(csv.DictReader(file))
        if not rows:
            raise ValueError("no row")
        column = {
            name: np.array([float(row[name] or "nan") for row in rows])
            for name in ("time_s", "crank_deg", "hip_forward_mm")
        }
        points = np.array(
            [
                [[float(row[f"{joint}_{axis}_px"] or "nan") for axis in "xy"] for joint in JOINTS]
                for row in rows
            ]
        )
        events = tuple(row["event"] for row in rows)
    except (OSError, KeyError, ValueError) as cause:
        raise BadInput(
            f"{path} is no table of a clip's truth.", "Install posewatch again."
        ) from cause
    return Truth(
        side,
        np.array([to_ns(t) for t in column["time_s"]], np.int64),
        np.unwrap(np.radians(column["crank_deg"])),
        points,
        column["hip_forward_mm"],
        events,
    )


def exact_tracking(truth: Truth, plane: PlaneMap) -> list[Tracked]:
    """Return what a tracker without any error would have said of each picture."""
    places_mm = plane.to_bike_mm(truth.points_px)
    speed = np.gradient(truth.angle_rad, truth.t_ns / 1e9)
    result = []
    for i, t_ns in enumerate(truth.t_ns):
        points = places_mm[i]
        doubts = np.where(np.isfinite(points).all(axis=1), Doubt.NONE, Doubt.NOBODY)
        body = belief.sample(int(t_ns), points, doubts.astype(np.uint8), points[HIP])
        reading = (
            CrankReading(True, float(truth.angle_rad[i]), float(speed[i]), True)
            if body.seen
            else CrankReading(False, math.nan, math.nan)
        )
        result.append(Tracked(int(t_ns), truth.side if body.seen else None, body, reading))
    return result
