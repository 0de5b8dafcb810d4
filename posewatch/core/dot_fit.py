"""How well a spot fits a dot, and which spot is given to which dot."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from posewatch.core.landmarks import ANKLE, HIP, KNEE, SHOULDER, TOE

#: Rows of landmarks.JOINTS that dots stand in for; the pedal spindle's takes the toe's.
DOT_ROWS = (SHOULDER, HIP, KNEE, ANKLE, TOE)
N_DOTS = len(DOT_ROWS)
ANKLE_DOT, PEDAL_DOT = DOT_ROWS.index(ANKLE), DOT_ROWS.index(TOE)

#: Short to long axis of a dot, squared: a disc has 1, a tilted one less; noise takes some.
LEAST_ROUNDNESS = 0.3
#: A dot is smeared over its way in one exposure, at most the time from picture to picture: so many
#: px^2 of spread for each px^2 of that way (a line of length s has s^2 / 12).
SMEAR = 1.0 / 12.0

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Spot:
    """A spot of the stickers' colour: centre in image px, area in px^2, and its spread.

    xx, xy, yy: second moments about the centre, px^2; a disc of radius r has r^2 / 4, 0, r^2 / 4.
    """

    x_px: float
    y_px: float
    area_px: float
    xx: float
    xy: float
    yy: float


@dataclass(frozen=True, slots=True)
class Expected:
    """Where a dot may be: within reach of any of the places, and nearer to them than to rivals.

    way_px: how far it may move from picture to picture. rivals: where other dots' landmarks are.
    joints: its own landmarks, of either label; it is within astray_px of one, if there are any.
    """

    places: tuple[Point, ...]
    reach_px: float
    way_px: float
    followed: bool
    rivals: tuple[Point, ...] = ()
    joints: tuple[Point, ...] = ()
    astray_px: float = math.inf

    def off_px(self, at: Point) -> float:
        """Return how far a place is from the dot's landmarks; 0 where there are none."""
        return min((math.dist(at, joint) for joint in self.joints), default=0.0)


def apart(places: Sequence[Point | None], apart_px: float) -> list[Point]:
    """Return the places that there are, without those nearer than so to one before them."""
    kept: list[Point] = []
    for place in places:
        if place is not None and all(math.dist(place, k) >= apart_px for k in kept):
            kept.append(place)
    return kept


def distinct(spots: Sequence[Spot], apart_px: float) -> list[Spot]:
    """Return the spots without those that lie nearer to another, larger one than ``apart_px``."""
    ordered = sorted(spots, key=lambda spot: -spot.area_px)
    places = apart([(spot.x_px, spot.y_px) for spot in ordered], apart_px)
    return [spot for spot in ordered if (spot.x_px, spot.y_px) in places]


def cost(expected: Expected, spot: Spot, limits: tuple[float, float]) -> float:
    """Return how badly a spot fits a dot: under 1 within reach, infinity where it cannot be it."""
    at = (spot.x_px, spot.y_px)
    away = min((math.dist(at, place) for place in expected.places), default=math.inf)
    low, high = limits
    if not away < expected.reach_px or not low <= spot.area_px <= high:
        return math.inf
    if expected.off_px(at) > expected.astray_px:
        return math.inf
    if any(math.dist(at, rival) < away for rival in expected.rivals):
        return math.inf
    return away / expected.reach_px if _is_round(spot, expected.way_px) else math.inf


def _is_round(spot: Spot, way_px: float) -> bool:
    """Tell whether a spot is a disc, smeared over no more than so long a way."""
    middle = (spot.xx + spot.yy) / 2.0
    half = math.hypot((spot.xx - spot.yy) / 2.0, spot.xy)
    smear = min(2.0 * half, SMEAR * way_px**2)
    return middle - half >= LEAST_ROUNDNESS * (middle + half - smear)


def assign(costs: Sequence[Sequence[float]], spots: Sequence[Spot]) -> list[int | None]:
    """Return each dot's spot so that the sum of costs is least; a dot without one costs 1.

    No spot is given twice, and the ankle is above the pedal. Few spots are within a dot's reach, so
    that all ways can be tried.
    """
    best_cost = math.inf
    best: list[int | None] = [None] * N_DOTS

    def look(dot: int, cost: float, so_far: list[int | None]) -> None:
        nonlocal best_cost, best
        if cost >= best_cost:
            return
        if dot == N_DOTS:
            best_cost, best = cost, so_far
            return
        for at, one in enumerate(costs[dot]):
            if math.isinf(one) or at in so_far:
                continue
            above = so_far[ANKLE_DOT] if dot == PEDAL_DOT else None
            if above is None or spots[above].y_px < spots[at].y_px:
                look(dot + 1, cost + one, [*so_far, at])
        look(dot + 1, cost + 1.0, [*so_far, None])

    look(0, 0.0, [])
    return best
