"""Means over whole revolutions of the crank: the live value and the stroke value.

A pose model's error within a stroke is mostly locked to the crank angle and cancels over a whole
revolution against a target from the same chain, so everything is judged on such means. They are
integrals over the angle, not over time, with the ends interpolated.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from posewatch.core.outputs import Reason
from posewatch.core.pedal_circle import TURN
from posewatch.core.records import NS_PER_S, BoolArray, FloatArray

SLOWEST_REVOLUTION_NS = int(1.5 * NS_PER_S)
MIN_BELIEVED_SHARE = 0.8
WIDEST_HOLE_RAD = math.radians(60.0)
LONGEST_HOLE_NS = int(0.2 * NS_PER_S)
#: Samples older than this cannot belong to a revolution that counts.
KEPT_NS = 2 * SLOWEST_REVOLUTION_NS


@dataclass(frozen=True, slots=True, eq=False)
class Sample:
    """Deviations at one moment: (n_columns,) float64, NaN = not believed."""

    t_ns: int
    angle_rad: float
    deviations: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Revolution:
    """Means and spreads over 360 degrees, per column; reasons where a column is unknown.

    means, spreads: (n_columns,) float64, NaN = unknown. The spread is the RMS about the mean.
    """

    start_ns: int
    end_ns: int
    means: FloatArray
    spreads: FloatArray
    reasons: tuple[Reason | None, ...]


@dataclass(frozen=True, slots=True)
class StrokeState:
    """The samples of the last turn and the stroke under way.

    next_top: the turn number at which the stroke under way ends, None before the first top.
    start_ns: when it began.
    """

    samples: tuple[Sample, ...] = ()
    next_top: int | None = None
    start_ns: int = 0


def step(state: StrokeState, sample: Sample) -> tuple[StrokeState, tuple[Revolution, ...]]:
    """Take in one sample; return the strokes that ended with it (mostly none, seldom two)."""
    samples = (*_kept(state, sample), sample)
    turn = math.floor(sample.angle_rad / TURN)
    if state.next_top is None:
        if not state.samples or turn <= math.floor(state.samples[-1].angle_rad / TURN):
            return StrokeState(samples), ()
        return StrokeState(samples, turn + 1, _time_at(samples, turn * TURN)), ()
    if turn < state.next_top:
        return StrokeState(samples, state.next_top, state.start_ns), ()
    ended = []
    start_ns = state.start_ns
    for top in range(state.next_top, turn + 1):
        end_ns = max(_time_at(samples, top * TURN), start_ns + 1)
        ended.append(_revolution(samples, (top - 1) * TURN, start_ns, end_ns))
        start_ns = end_ns
    return StrokeState(samples, turn + 1, start_ns), tuple(ended)


def live(state: StrokeState) -> Revolution | None:
    """Return the means over exactly the last 360 degrees, None before a turn was seen."""
    if not state.samples:
        return None
    last = state.samples[-1]
    begin = last.angle_rad - TURN
    if state.samples[0].angle_rad > begin:
        return None
    start_ns = _time_at(state.samples, begin)
    return _revolution(state.samples, begin, start_ns, last.t_ns)


def _kept(state: StrokeState, newest: Sample) -> tuple[Sample, ...]:
    """Drop what lies before the last turn and the stroke under way, or too long ago.

    So much more is kept as the widest hole takes, so that a hole over a top is seen whole.
    """
    samples = state.samples
    begin = newest.angle_rad - TURN
    if state.next_top is not None:
        begin = min(begin, (state.next_top - 1) * TURN)
    begin -= WIDEST_HOLE_RAD
    oldest_ns = newest.t_ns - KEPT_NS
    first = 0
    while first < len(samples) - 1 and (
        samples[first].t_ns < oldest_ns
        or (samples[first].angle_rad <= begin and samples[first + 1].angle_rad <= begin)
    ):
        first += 1
    return samples[first:]


def _time_at(samples: tuple[Sample, ...], angle_rad: float) -> int:
    """Return the time at which the crank last rose through an angle, interpolated."""
    for earlier, later in zip(reversed(samples[:-1]), reversed(samples), strict=False):
        if earlier.angle_rad < angle_rad <= later.angle_rad:
            share = (angle_rad - earlier.angle_rad) / (later.angle_rad - earlier.angle_rad)
            return earlier.t_ns + round(share * (later.t_ns - earlier.t_ns))
    return samples[0].t_ns


def _revolution(
    samples: tuple[Sample, ...], begin_rad: float, start_ns: int, end_ns: int
) -> Revolution:
    angles = np.array([s.angle_rad for s in samples])
    times = np.array([s.t_ns for s in samples], np.int64)
    values = np.array([s.deviations for s in samples])
    n_columns = values.shape[1]
    whole = _why_not_whole(angles, begin_rad, end_ns - start_ns)
    if whole is not None:
        nothing = np.full(n_columns, np.nan)
        return Revolution(start_ns, end_ns, nothing, nothing, (whole,) * n_columns)
    means, spreads = np.full((2, n_columns), np.nan)
    reasons: list[Reason | None] = [None] * n_columns
    believed = np.isfinite(values)
    for pattern, columns in _patterns(believed):
        span = _span(angles, pattern, begin_rad)
        reason = _why_not_known(angles, times, span, begin_rad + TURN, end_ns)
        if reason is None:
            means[columns], spreads[columns] = _integrate(
                angles, values[:, columns], span, begin_rad
            )
        for column in columns:
            reasons[column] = reason
    return Revolution(start_ns, end_ns, means, spreads, tuple(reasons))


def _patterns(believed: BoolArray) -> list[tuple[BoolArray, NDArray[np.intp]]]:
    """Return which samples are believed, and in which columns it is those: mostly all in all."""
    if believed.all():
        return [(believed[:, 0], np.arange(believed.shape[1]))]
    different = {column.tobytes(): column for column in believed.T}.values()
    return [
        (pattern, np.flatnonzero(np.all(pattern == believed.T, axis=1))) for pattern in different
    ]


def _why_not_whole(angles: FloatArray, begin_rad: float, took_ns: int) -> Reason | None:
    if took_ns > SLOWEST_REVOLUTION_NS:
        return Reason.TOO_SLOW
    touched = angles >= begin_rad
    touched[:-1] |= touched[1:]
    if angles[0] > begin_rad or np.any(np.diff(angles[touched]) <= 0):
        return Reason.NOT_TURNING
    return None


class _Span(NamedTuple):
    """Indices of the believed samples, of which [low, high) lie inside the revolution.

    n_pictures: inside it, believed or not. The angle is known to rise throughout, so that whatever
    is past an angle is the rest of the samples.
    """

    believed: NDArray[np.intp]
    low: int
    high: int
    n_pictures: int


def _span(angles: FloatArray, believed: BoolArray, begin_rad: float) -> _Span:
    first = len(angles) - int(np.count_nonzero(angles >= begin_rad))
    last = len(angles) - int(np.count_nonzero(angles >= begin_rad + TURN))
    indices = np.flatnonzero(believed)
    low, high = np.searchsorted(indices, (first, last))
    return _Span(indices, int(low), int(high), last - first)


def _why_not_known(
    angles: FloatArray, times: NDArray[np.int64], span: _Span, end_rad: float, end_ns: int
) -> Reason | None:
    if span.high - span.low < MIN_BELIEVED_SHARE * span.n_pictures:
        return Reason.NOT_BELIEVED
    # From the believed sample before the revolution to the one after it, where there are such.
    chain = span.believed[max(span.low - 1, 0) : span.high + 1]
    for places, end, widest in (
        (angles, end_rad, WIDEST_HOLE_RAD),
        (times, end_ns, LONGEST_HOLE_NS),
    ):
        knots = places[chain]
        if span.low == 0:
            knots = np.append(places[0], knots)
        if span.high == len(span.believed):
            knots = np.append(knots, end)
        if np.diff(knots).max() > widest:
            return Reason.HOLE
    return None


def _integrate(
    angles: FloatArray, values: FloatArray, span: _Span, begin_rad: float
) -> tuple[FloatArray, FloatArray]:
    """Return mean and RMS about it over the revolution of curves through the believed samples."""
    inside = span.believed[span.low : span.high]
    end_rad = begin_rad + TURN
    knots = np.concatenate(([begin_rad], angles[inside], [end_rad]))
    table = np.concatenate(
        (
            [_value_at(angles, values, span.believed, span.low, begin_rad)],
            values[inside],
            [_value_at(angles, values, span.believed, span.high, end_rad)],
        )
    )
    # The trapezoidal rule, over the angle.
    weights = np.diff(knots) / (2.0 * TURN)
    mean = weights @ (table[1:] + table[:-1])
    square = (table - mean) ** 2
    return mean, np.sqrt(weights @ (square[1:] + square[:-1]))


def _value_at(
    angles: FloatArray,
    values: FloatArray,
    believed: NDArray[np.intp],
    place: int,
    angle_rad: float,
) -> FloatArray:
    """Return the value between the believed samples before and at a place, or the nearer one's."""
    if place == 0 or place == len(believed):
        return np.asarray(values[believed[min(place, len(believed) - 1)]])
    before, after = believed[place - 1], believed[place]
    share = (angle_rad - angles[before]) / (angles[after] - angles[before])
    return np.asarray(values[before] + share * (values[after] - values[before]))
