"""The near ankle's circle in the picture, and what its angle says of the crank's.

The ankle goes round a closed curve near the pedal's circle. The angle about that curve's centre,
passed through a map of three harmonics, is the crank angle. Circle and map are learned from steady
pedalling; no outside truth is needed.

Coordinates are canonical image px: x forward (direction of travel), y up.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from posewatch.core import harmonics
from posewatch.core.records import FloatArray

TURN = 2.0 * math.pi
Point = tuple[float, float]

MAP_ORDER = 3
NO_MAP = (0.0,) * (2 * MAP_ORDER)
#: A wider gap between neighbouring points leaves a circle, or a stroke, open.
WIDEST_GAP_RAD = math.radians(60.0)
#: An ankle this far off the circle (share of the radius) is not pedalling.
RADIUS_SHARE = (0.55, 1.45)


@dataclass(frozen=True, slots=True)
class CrankGeometry:
    """The near ankle's circle in the picture and the map from its angle to the crank angle.

    centre_x_px, centre_y_px: canonical image px (x forward, y up). radius_px: mean distance.
    angle_map: cos, sin coefficients (rad) of three harmonics of the circle angle.
    """

    centre_x_px: float
    centre_y_px: float
    radius_px: float
    angle_map: tuple[float, ...]


def circle_angle(geometry: CrankGeometry, point: Point) -> float:
    """Return the angle about the centre: 0 = top, rising towards the front, rad in (-pi, pi]."""
    return math.atan2(point[0] - geometry.centre_x_px, point[1] - geometry.centre_y_px)


def mapped_angle(angle_map: Sequence[float], circle_rad: float) -> float:
    """Return the crank angle for an angle about the circle's centre, rad."""
    angle = circle_rad
    for k in range(len(angle_map) // 2):
        turned = (k + 1) * circle_rad
        angle += angle_map[2 * k] * math.cos(turned) + angle_map[2 * k + 1] * math.sin(turned)
    return angle


def is_on_circle(geometry: CrankGeometry, point: Point) -> bool:
    """Tell whether an ankle is near enough to the circle to be pedalling."""
    share = (
        math.hypot(point[0] - geometry.centre_x_px, point[1] - geometry.centre_y_px)
        / geometry.radius_px
    )
    return RADIUS_SHARE[0] <= share <= RADIUS_SHARE[1]


def fit_circle(points: FloatArray) -> tuple[float, float, float]:
    """Return centre x, y and radius of the circle through (n, 2) points.

    Algebraic least squares on x^2 + y^2 = 2ax + 2by + c (Kasa 1976, from memory): biased small on
    short arcs, fine on a whole turn.
    """
    middle = points.mean(axis=0)
    x, y = (points - middle).T
    columns = np.column_stack((2 * x, 2 * y, np.ones_like(x)))
    (a, b, c), *_ = np.linalg.lstsq(columns, x**2 + y**2, rcond=None)
    return float(a + middle[0]), float(b + middle[1]), math.sqrt(max(c + a * a + b * b, 0.0))


def centre_over_angle(points: FloatArray) -> Point | None:
    """Return the mean of one stroke's ankle points over the crank angle, None if it has gaps.

    points: (n, 3) float64, crank angle rad rising, x, y.
    """
    angles = points[:, 0]
    steps = np.diff(np.append(angles, angles[0] + TURN))
    if len(points) < 8 or steps.max() > WIDEST_GAP_RAD or steps.min() <= 0:
        return None
    weights = (steps + np.roll(steps, 1)) / (2 * TURN)
    x, y = weights @ points[:, 1:]
    return float(x), float(y)


def learn_map(circle_rad: FloatArray, t_s: FloatArray, n_rounds: int = 4) -> tuple[float, ...]:
    """Learn the map from circle angle to crank angle from steady pedalling.

    The crank is taken to turn evenly within each stroke (top to top), so no outside truth is
    needed; the mean of the map is zero, which fixes what "top" means.

    Args:
        circle_rad: (n,) angle about the circle's centre, unwrapped, rising over many turns.
        t_s: (n,) times, rising.

    Raises:
        ValueError: fewer than three whole turns.
    """
    angle_map = np.zeros(2 * MAP_ORDER)
    columns = harmonics.basis(circle_rad, MAP_ORDER)[:, 1:]
    for _ in range(n_rounds):
        angle = np.maximum.accumulate(circle_rad + columns @ angle_map)
        turns = np.arange(math.ceil(angle[0] / TURN), math.floor(angle[-1] / TURN) + 1)
        if len(turns) < 4:
            raise ValueError("fewer than three whole turns")
        tops_s = np.interp(turns * TURN, angle, t_s)
        inside = (t_s >= tops_s[0]) & (t_s < tops_s[-1])
        even = np.interp(t_s[inside], tops_s, turns * TURN)
        angle_map = harmonics.fit(circle_rad[inside], even - circle_rad[inside], MAP_ORDER)[1:]
    return tuple(float(c) for c in angle_map)
