"""Which sticker dot is which, and where each is to be expected in the next picture.

A dot is told by where it must be: from its last places, moving on as it did; or, before it is
followed, by the landmark beside it. Spots are given to dots all at once, so that the whole
fits best. A dot that is not seen is not invented.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np

from posewatch.core import dot_fit
from posewatch.core.dot_fit import DOT_ROWS, N_DOTS, PEDAL_DOT, Expected, Point, Spot
from posewatch.core.landmark_codec import decode, encode
from posewatch.core.landmarks import ANKLE, HEEL, HIP, KNEE, LANDMARKS, TOE
from posewatch.core.records import NS_PER_S, Frame, Side
from posewatch.core.sources import TimedPicture

#: A sticker is 24 mm across, a middling adult's thigh from hip to knee joint 430 mm (from memory).
STICKER_THIGHS = 24.0 / 430.0
#: The spindle is below the toe landmark, at right angles to the foot, by this share of the way from
#: heel to toe (measured on the demo clips).
SPINDLE_SHARE = 0.23
#: Beside its landmark a dot lies within so many thighs: model errors, and the sticker's own place.
BESIDE_THIGHS = 0.4
#: A dot with one known place moves no faster, thighs a second (a foot at 140 rpm: 6).
FASTEST_THIGHS_S = 6.0
#: A followed dot is found within so many diameters of where it is expected, and this share of its
#: way from picture to picture.
GATE_DIAMETERS = 1.5
GATE_STEPS = 0.5
#: A dot unseen for longer is no longer followed, but looked for beside its landmark.
FOLLOWED_NS = NS_PER_S // 8
#: What is farther from a dot's landmark, on either leg, is another thing; so is what is that far
#: from it over so long.
ASTRAY_THIGHS = 0.7
ASTRAY_MEAN_THIGHS = 0.25
ASTRAY_MEAN_OF = 10

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


@dataclass(frozen=True, slots=True)
class DotTrack:
    """One dot: its last places (t_ns, x, y), three at most, none = not followed.

    area_px: its usual area, from n_areas pictures (MEAN_OF at most). seen_ns: when it was last
    found. off_px: how far it is from its landmark, mean of the last pictures.
    """

    places: tuple[tuple[int, float, float], ...] = ()
    area_px: float = 0.0
    n_areas: int = 0
    seen_ns: int = 0
    off_px: float = 0.0


@dataclass(frozen=True, slots=True)
class DotsState:
    """What is remembered from picture to picture.

    thigh_px: its length, 0 = not known yet. t_ns: of the last picture, None = there was none.
    """

    tracks: tuple[DotTrack, ...] = (DotTrack(),) * N_DOTS
    thigh_px: float = 0.0
    t_ns: int | None = None


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
    along_x, along_y = (points[TOE] - points[HEEL]).tolist()
    below = np.array((-along_y, along_x))
    if below @ (points[ANKLE] - points[KNEE]) < 0:
        below = -below
    wanted[PEDAL_DOT] = points[TOE] + SPINDLE_SHARE * below
    return [(x, y) if math.isfinite(x + y) else None for x, y in wanted.tolist()]


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
        astray = track.off_px > ASTRAY_MEAN_THIGHS * state.thigh_px
        if astray or frame.t_ns - track.seen_ns > FOLLOWED_NS:
            track = replace(track, places=(), off_px=0.0)
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
        costs.append([dot_fit.cost(one, spot, limits) for spot in spots])
    chosen = dot_fit.assign(costs, spots)
    tracks, found = [], []
    for one, track, at in zip(expected, state.tracks, chosen, strict=True):
        spot = None if at is None else spots[at]
        found.append(spot)
        tracks.append(track if spot is None else _remember(track, t_ns, spot, one))
    return replace(state, tracks=tuple(tracks)), found


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
    """Return where a dot is if it keeps its speed, or, with three places, its acceleration.

    Newton's quadratic through the last three: a foot going round, and a knee turning back, stay on
    it within a tenth of their circle for a picture at 25 a second.
    """
    times = [t / NS_PER_S for t, _, _ in track.places]
    places = [complex(x, y) for _, x, y in track.places]
    ahead_s = t_ns / NS_PER_S - times[-1]
    gate = GATE_DIAMETERS * diameter_px
    farthest_px = FASTEST_THIGHS_S * thigh_px * ahead_s
    if len(places) == 1:
        place = (places[0].real, places[0].imag)
        return Expected((place,), gate + farthest_px, farthest_px, True)
    speed = (places[-1] - places[-2]) / (times[-1] - times[-2])
    way = speed * ahead_s
    if len(places) == 3:
        before = (places[1] - places[0]) / (times[1] - times[0])
        bend = (speed - before) / (times[2] - times[0])
        way += bend * ahead_s * (ahead_s + times[2] - times[1])
    way *= min(1.0, farthest_px / max(abs(way), 1e-9))
    at = places[-1] + way
    way_px = min(farthest_px, max(abs(way), abs(speed) * ahead_s))
    return Expected(((at.real, at.imag),), gate + GATE_STEPS * way_px, way_px, True)


def _area_limits(state: DotsState, track: DotTrack) -> tuple[float, float]:
    """Return between which areas, px^2, a spot may be this dot."""
    own = track.n_areas >= OWN_AREAS
    usual = track.area_px if own else sticker_area_px(state)
    any_known = any(other.n_areas for other in state.tracks)
    low, high = WHOLE_AREA if own else ALIKE_AREA if any_known else FIRST_AREA
    return low * usual, high * usual


def _remember(track: DotTrack, t_ns: int, spot: Spot, expected: Expected) -> DotTrack:
    n = min(track.n_areas + 1, MEAN_OF)
    off_px = expected.off_px((spot.x_px, spot.y_px))
    before = track.area_px if track.n_areas else spot.area_px
    return replace(
        track,
        places=(*track.places, (t_ns, spot.x_px, spot.y_px))[-3:],
        area_px=before + (spot.area_px - before) / n,
        n_areas=n,
        seen_ns=t_ns,
        off_px=track.off_px + (off_px - track.off_px) / ASTRAY_MEAN_OF,
    )
