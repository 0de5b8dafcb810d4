"""The near ankle's circle in the picture, and what its angle says of the crank's.

The ankle goes round a closed curve near the pedal's circle. The angle about that curve's centre,
passed through a map of three harmonics, is the crank angle. Circle and map are learned from steady
pedalling; no outside truth is needed.

Coordinates are x forward (direction of travel), y up, in the length unit.
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
#: A stroke that took so much longer or shorter than the median (share) was not turned evenly.
UNEVEN_SHARE = 0.25
#: An ankle this far off the circle (share of the radius) is not pedalling.
RADIUS_SHARE = (0.35, 1.5)


@dataclass(frozen=True, slots=True)
class CrankGeometry:
    """The near ankle's circle in the picture and the map from its angle to the crank angle.

    centre_x, centre_y: x forward, y up, in the length unit. radius: mean distance.
    angle_map: cos, sin coefficients (rad) of three harmonics of the circle angle.
    """

    centre_x: float
    centre_y: float
    radius: float
    angle_map: tuple[float, ...]


def circle_angle(geometry: CrankGeometry, point: Point) -> float:
    """Return the angle about the centre: 0 = top, rising towards the front, rad in (-pi, pi]."""
    return math.atan2(point[0] - geometry.centre_x, point[1] - geometry.centre_y)


def mapped_angle(angle_map: Sequence[float], circle_rad: float) -> float:
    """Return the crank angle for an angle about the circle's centre, rad."""
    angle = circle_rad
    for k in range(len(angle_map) // 2):
        turned = (k + 1) * circle_rad
        angle += angle_map[2 * k] * math.cos(turned) + angle_map[2 * k + 1] * math.sin(turned)
    return angle


def is_on_circle(geometry: CrankGeometry, point: Point) -> bool:
    """Tell whether an ankle is near enough to the circle to be pedalling."""
    share = math.hypot(point[0] - geometry.centre_x, point[1] - geometry.centre_y) / geometry.radius
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


def learn_map(
    rides: Sequence[tuple[FloatArray, FloatArray]], n_rounds: int = 4
) -> tuple[float, ...]:
    """Learn the map from circle angle to crank angle from steady pedalling.

    The crank is taken to turn evenly within each stroke (top to top), so no outside truth is
    needed; the mean of the map is zero, which fixes what "top" means.

    Args:
        rides: pairs of (n,) angles about the circle's centre, unwrapped, rising over many turns,
            and (n,) times in s, rising.
        n_rounds: how often the strokes are cut anew with the map found.

    Raises:
        ValueError: fewer than three whole turns.
    """
    angle_map = np.zeros(2 * MAP_ORDER)
    for _ in range(n_rounds):
        found = [_even_angles(circle, t_s, angle_map) for circle, t_s in rides]
        circle, off = (np.concatenate(columns) for columns in zip(*found, strict=True))
        if len(circle) < 1 + 2 * MAP_ORDER:
            raise ValueError("fewer than three whole turns")
        angle_map = harmonics.fit(circle, off, MAP_ORDER)[1:]
    return tuple(float(c) for c in angle_map)


def _even_angles(
    circle_rad: FloatArray, t_s: FloatArray, angle_map: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return circle angles, and how far an evenly turning crank is ahead of them."""
    angle = np.maximum.accumulate(
        circle_rad + harmonics.basis(circle_rad, MAP_ORDER)[:, 1:] @ angle_map
    )
    turns = np.arange(math.ceil(angle[0] / TURN), math.floor(angle[-1] / TURN) + 1)
    if len(turns) < 4:
        return np.empty(0), np.empty(0)
    tops_s = np.interp(turns * TURN, angle, t_s)
    took_s = np.diff(tops_s)
    usual = np.abs(took_s - np.median(took_s)) <= UNEVEN_SHARE * np.median(took_s)
    stroke = np.searchsorted(tops_s, t_s, side="right") - 1
    inside = (stroke >= 0) & (stroke < len(usual))
    inside[inside] = usual[stroke[inside]]
    even = np.interp(t_s[inside], tops_s, turns * TURN)
    return circle_rad[inside], even - circle_rad[inside]
