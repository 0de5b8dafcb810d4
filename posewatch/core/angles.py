"""Joint angles from points in a plane, x forward, y up.

Points are arrays of shape (..., 2) in any one unit. Where an angle has no value (two points
coincide, or a coordinate is NaN) the result is NaN, never 0 or 180. Definitions: knee flexion and
hip included (trunk to thigh) as used in bicycle-fitting papers, e.g. the review PMC9219349.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from posewatch.core.records import FloatArray


class BodyAngles(NamedTuple):
    """Angles in degrees, each of shape (...)."""

    torso_deg: FloatArray
    knee_flexion_deg: FloatArray
    hip_included_deg: FloatArray


def direction_deg(start: FloatArray, end: FloatArray) -> FloatArray:
    """Return the direction from start to end above the horizontal, degrees in (-180, 180]."""
    step = np.asarray(end, np.float64) - np.asarray(start, np.float64)
    angle = np.degrees(np.arctan2(step[..., 1], step[..., 0]))
    return np.where(np.any(step != 0, axis=-1), angle, np.nan)


def included_angle_deg(first: FloatArray, vertex: FloatArray, last: FloatArray) -> FloatArray:
    """Return the angle at vertex between first and last, degrees in [0, 180]."""
    return _turn_deg(direction_deg(vertex, first), direction_deg(vertex, last))


def knee_flexion_deg(hip: FloatArray, knee: FloatArray, ankle: FloatArray) -> FloatArray:
    """Return 180 minus the angle at the knee; 0 = straight leg."""
    return 180.0 - included_angle_deg(hip, knee, ankle)


def body_angles(
    shoulder: FloatArray, hip: FloatArray, knee: FloatArray, ankle: FloatArray
) -> BodyAngles:
    """Return torso, knee and hip angles of one side of the body.

    Flexion is the turn from the thigh's direction (hip to knee) to the shank's (knee to ankle).
    """
    trunk, thigh, shank = direction_deg(
        np.stack((hip, hip, knee)), np.stack((shoulder, knee, ankle))
    )
    return BodyAngles(trunk, _turn_deg(thigh, shank), _turn_deg(trunk, thigh))


def _turn_deg(first_deg: FloatArray, second_deg: FloatArray) -> FloatArray:
    """Return the angle between two directions, degrees in [0, 180]."""
    return np.abs((first_deg - second_deg + 180.0) % 360.0 - 180.0)


def body_angles_at(
    shoulder: Sequence[float], hip: Sequence[float], knee: Sequence[float], ankle: Sequence[float]
) -> tuple[float, float, float]:
    """Return torso, knee and hip angles of one picture: body_angles without arrays, for speed."""
    trunk, thigh, shank = (
        math.degrees(math.atan2(to[1] - at[1], to[0] - at[0]))
        if tuple(to) != tuple(at)
        else math.nan
        for at, to in ((hip, shoulder), (hip, knee), (knee, ankle))
    )
    return (
        trunk,
        abs((thigh - shank + 180.0) % 360.0 - 180.0),
        abs((trunk - thigh + 180.0) % 360.0 - 180.0),
    )


def _direction_deg(start: Sequence[float], end: Sequence[float]) -> float:
    x, y = end[0] - start[0], end[1] - start[1]
    return math.nan if x == 0 == y else math.degrees(math.atan2(y, x))


def circular_mean_deg(angles_deg: FloatArray) -> tuple[float, float]:
    """Return the mean direction in degrees [0, 360) and the resultant length (0 to 1)."""
    turned = np.exp(1j * np.radians(np.asarray(angles_deg, np.float64))).mean()
    return float(np.degrees(np.angle(turned)) % 360.0), float(abs(turned))
