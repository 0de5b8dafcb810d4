"""Which sticker dot is which, and where each is to be expected in the next picture.

A dot is told by where it must be: from its last places, moving on and turning as it did; or, before
it is followed, by the landmark beside it. Spots are given to dots all at once, so that the whole
fits best. A dot that is not seen is not invented.
"""

from __future__ import annotations

import cmath
import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np

from posewatch.core.landmark_codec import decode, encode
from posewatch.core.landmarks import ANKLE, HEEL, HIP, KNEE, LANDMARKS, SHOULDER, TOE
from posewatch.core.records import NS_PER_S, Frame, Side
from posewatch.core.sources import TimedPicture

#: Rows of landmarks.JOINTS that dots stand in for; the pedal spindle's takes the toe's.
DOT_ROWS = (SHOULDER, HIP, KNEE, ANKLE, TOE)
N_DOTS = len(DOT_ROWS)
ANKLE_DOT, PEDAL_DOT = DOT_ROWS.index(ANKLE), DOT_ROWS.index(TOE)

#: A sticker is 24 mm across, a middling adult's thigh from hip to knee joint 430 mm (from memory).
STICKER_THIGHS = 24.0 / 430.0
#: The ball of the foot, over the spindle, on the way from heel to toe.
BALL_SHARE = 0.7
#: Beside its landmark a dot lies within so many thighs: model errors, and the sticker's own place.
BESIDE_THIGHS = 0.4
#: A dot with one known place moves no faster, thighs a second (a foot at 140 rpm: 6).
FASTEST_THIGHS_S = 6.0
#: A followed dot is found within so many diameters of where it is expected, and this share of its
#: last step.
GATE_DIAMETERS = 1.5
GATE_STEPS = 0.5
#: Steps under so many diameters say nothing of a turn; a foot turns by less than this a picture.
TURN_DIAMETERS = 0.3
TURN_LIMIT_RAD = 1.0
#: A dot unseen for longer is no longer followed, but looked for beside its landmark.
FOLLOWED_NS = NS_PER_S // 8
#: What is farther from a dot's landmark, on either leg, is another thing.
ASTRAY_THIGHS = 0.7

#: Shares of a dot's usual area within which it is whole: the centre of a half hidden one is off.
WHOLE_AREA = (0.75, 1.4)
#: The same against the other dots' areas, until so many of its own tell what is usual.
OWN_AREAS = 5
ALIKE_AREA = (0.5, 1.7)
#: And against what the thigh makes of a sticker, where no dot is known yet.
FIRST_AREA = (0.35, 2.5)
#: Usual areas and the thigh's length follow what is seen by this share a picture; a usual area
#: begins as the mean of the first so many.
GAIN = 0.05
MEAN_OF = 20
#: A dot unseen for so long may have another area when it comes back.
AREA_KEPT_NS = 3 * NS_PER_S
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
class DotTrack:
    """One dot: its last places (t_ns, x, y), three at most, none = not followed.

    area_px: its usual area, from n_areas pictures (MEAN_OF at most). seen_ns: when it was last
    found.
    """

    places: tuple[tuple[int, float, float], ...] = ()
    area_px: float = 0.0
    n_areas: int = 0
    seen_ns: int = 0


@dataclass(frozen=True, slots=True)
class DotsState:
    """What is remembered from picture to picture.

    thigh_px: its length, 0 = not known yet. t_ns: of the last picture, None = there was none.
    """

    tracks: tuple[DotTrack, ...] = (DotTrack(),) * N_DOTS
    thigh_px: float = 0.0
    t_ns: int | None = None


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


class PointReader(Protocol):
    """Puts points read from the picture itself in the place of some of the model's landmarks."""

    def read(self, picture: TimedPicture, frame: Frame) -> Frame: ...


def sticker_area_px(state: DotsState) -> float:
    """Return about what a sticker covers, px^2: as seen, else from the thigh's length."""
    known = [track.area_px for track in state.tracks if track.n_areas]
    if known:
        return statistics.median(known)
    return math.pi / 4.0 * (STICKER_THIGHS * state.thigh_px) ** 2


def beside(frame: Frame, side: Side) -> list[Point | None]:
    """Return where a side's landmarks want each dot, None where the model saw nobody."""
    points = frame.points_px[LANDMARKS[side]]
    wanted = points[list(DOT_ROWS)].copy()
    wanted[PEDAL_DOT] = points[HEEL] + BALL_SHARE * (points[TOE] - points[HEEL])
    return [(x, y) if math.isfinite(x + y) else None for x, y in wanted.tolist()]


def apart(places: Sequence[Point | None], apart_px: float) -> list[Point]:
    """Return the places that there are, without those nearer than so to one before them."""
    kept: list[Point] = []
    for place in places:
        if place is not None and all(math.dist(place, k) >= apart_px for k in kept):
            kept.append(place)
    return kept


def longer_thigh_px(frame: Frame) -> float:
    """Return the length of the longer thigh in a frame, px; 0 where the model saw nobody."""
    hips_knees = [frame.points_px[LANDMARKS[side][[HIP, KNEE]]] for side in Side]
    lengths = [math.dist(*pair.tolist()) for pair in hips_knees]
    return max((length for length in lengths if length > 0), default=0.0)


def expect(state: DotsState, frame: Frame, side: Side) -> tuple[DotsState, list[Expected]]:
    """Return where each dot is to be looked for in a frame's picture.

    The model mixes up legs: a dot that is not followed is looked for beside either label's joint.
    """
    state = _follow_thigh(state, frame, side)
    far = Side.LEFT if side is Side.RIGHT else Side.RIGHT
    diameter = math.sqrt(4.0 / math.pi * sticker_area_px(state))
    since_s = 0.0 if state.t_ns is None else (frame.t_ns - state.t_ns) / NS_PER_S
    joints = [
        tuple(place for place in pair if place is not None)
        for pair in zip(beside(frame, side), beside(frame, far), strict=True)
    ]
    tracks, expected = [], []
    for dot, track in enumerate(state.tracks):
        if frame.t_ns - track.seen_ns > FOLLOWED_NS:
            track = replace(track, places=())
        if frame.t_ns - track.seen_ns > AREA_KEPT_NS:
            track = replace(track, n_areas=0)
        tracks.append(track)
        if track.places:
            one = _move_on(track, frame.t_ns, diameter, state.thigh_px)
            astray_px = ASTRAY_THIGHS * state.thigh_px
            expected.append(replace(one, joints=joints[dot], astray_px=astray_px))
            continue
        expected.append(
            Expected(
                joints[dot],
                BESIDE_THIGHS * state.thigh_px,
                FASTEST_THIGHS_S * state.thigh_px * since_s,
                False,
                tuple(place for i in range(N_DOTS) if i != dot for place in joints[i]),
            )
        )
    return replace(state, tracks=tuple(tracks), t_ns=frame.t_ns), expected


def take_in(
    state: DotsState, t_ns: int, expected: Sequence[Expected], spots: Sequence[Spot]
) -> tuple[DotsState, list[Spot | None]]:
    """Give spots to dots, and remember them.

    Args:
        state, expected: as returned by :func:`expect` for the same picture.
        t_ns: its time.
        spots: what was found in it, each once.

    Returns:
        the state, and the spot of each dot, None where it was not found.
    """
    costs = []
    for one, track in zip(expected, state.tracks, strict=True):
        limits = _area_limits(state, track)
        costs.append([_cost(one, spot, limits) for spot in spots])
    chosen = _assign(costs, spots)
    tracks, found = [], []
    for track, at in zip(state.tracks, chosen, strict=True):
        spot = None if at is None else spots[at]
        found.append(spot)
        tracks.append(track if spot is None else _remember(track, t_ns, spot))
    return replace(state, tracks=tuple(tracks)), found


def distinct(spots: Sequence[Spot], apart_px: float) -> list[Spot]:
    """Return the spots without those that lie nearer to another, larger one than ``apart_px``."""
    ordered = sorted(spots, key=lambda spot: -spot.area_px)
    places = apart([(spot.x_px, spot.y_px) for spot in ordered], apart_px)
    return [spot for spot in ordered if (spot.x_px, spot.y_px) in places]


def with_dots(frame: Frame, side: Side, found: Sequence[Spot | None]) -> Frame:
    """Return the frame with the dots in the side's rows, as decoded from its stored form.

    Seen dots have visibility and presence 1; the others 0, and NaN for a place.
    """
    points, visibility = frame.points_px.copy(), frame.visibility.copy()
    presence = frame.presence.copy()
    for row, spot in zip(LANDMARKS[side][list(DOT_ROWS)], found, strict=True):
        points[row] = np.nan if spot is None else (spot.x_px, spot.y_px)
        visibility[row] = presence[row] = 0.0 if spot is None else 1.0
    return decode(frame.t_ns, encode(points, visibility, presence))


def _follow_thigh(state: DotsState, frame: Frame, side: Side) -> DotsState:
    """Keep the thigh's length: a slow running mean of what the model sees."""
    hip, knee = frame.points_px[LANDMARKS[side][[HIP, KNEE]]]
    length = math.hypot(*(hip - knee).tolist())
    if not length > 0:
        return state
    before = state.thigh_px or length
    return replace(state, thigh_px=before + GAIN * (length - before))


def _move_on(track: DotTrack, t_ns: int, diameter_px: float, thigh_px: float) -> Expected:
    """Return where a dot is if it keeps its speed and goes on turning as it turned."""
    times = [t / NS_PER_S for t, _, _ in track.places]
    places = [complex(x, y) for _, x, y in track.places]
    ahead_s = t_ns / NS_PER_S - times[-1]
    gate = GATE_DIAMETERS * diameter_px
    if len(places) == 1:
        at, way_px = places[0], FASTEST_THIGHS_S * thigh_px * ahead_s
        return Expected(((at.real, at.imag),), gate + way_px, way_px, True)
    step_s = times[-1] - times[-2]
    step = places[-1] - places[-2]
    speed = step / step_s
    turn = 0.0
    if len(places) == 3:
        before = places[1] - places[0]
        if min(abs(step), abs(before)) > TURN_DIAMETERS * diameter_px:
            between_s = (times[2] - times[0]) / 2.0
            turn = cmath.phase(step / before) / between_s * (step_s + ahead_s) / 2.0
            turn = max(-TURN_LIMIT_RAD, min(TURN_LIMIT_RAD, turn))
    fastest = FASTEST_THIGHS_S * thigh_px
    speed *= min(1.0, fastest / max(abs(speed), 1e-9))
    way = speed * ahead_s * cmath.rect(1.0, turn)
    at = places[-1] + way
    return Expected(((at.real, at.imag),), gate + GATE_STEPS * abs(way), abs(way), True)


def _area_limits(state: DotsState, track: DotTrack) -> tuple[float, float]:
    """Return between which areas, px^2, a spot may be this dot."""
    own = track.n_areas >= OWN_AREAS
    usual = track.area_px if own else sticker_area_px(state)
    any_known = any(other.n_areas for other in state.tracks)
    low, high = WHOLE_AREA if own else ALIKE_AREA if any_known else FIRST_AREA
    return low * usual, high * usual


def _cost(expected: Expected, spot: Spot, limits: tuple[float, float]) -> float:
    """Return how badly a spot fits a dot: under 1 within reach, infinity where it cannot be it."""
    at = (spot.x_px, spot.y_px)
    away = min((math.dist(at, place) for place in expected.places), default=math.inf)
    low, high = limits
    if not away < expected.reach_px or not low <= spot.area_px <= high:
        return math.inf
    if min((math.dist(at, j) for j in expected.joints), default=0.0) > expected.astray_px:
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


def _assign(costs: Sequence[Sequence[float]], spots: Sequence[Spot]) -> list[int | None]:
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


def _remember(track: DotTrack, t_ns: int, spot: Spot) -> DotTrack:
    n = min(track.n_areas + 1, MEAN_OF)
    before = track.area_px if track.n_areas else spot.area_px
    return replace(
        track,
        places=(*track.places, (t_ns, spot.x_px, spot.y_px))[-3:],
        area_px=before + (spot.area_px - before) / n,
        n_areas=n,
        seen_ns=t_ns,
    )
