"""Figures from pairs of measured and exact series; each a plain function of arrays."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from posewatch.core import harmonics, strokes
from posewatch.core.angles import circular_mean_deg
from posewatch.core.records import FloatArray
from posewatch.core.strokes import Revolution, Sample, StrokeState

#: Knee curve of one stroke: the target's curve plus this many harmonics of the deviation.
STROKE_CURVE_ORDER = 2
#: The first seconds, before the filter has settled, are left out.
SETTLING_S = 2.0


@dataclass(frozen=True, slots=True, eq=False)
class Series:
    """One run: (n,) int64 times, (n,) rad angles (NaN = unknown), (n, m) values."""

    t_ns: np.ndarray
    angle_rad: FloatArray
    values: FloatArray


def revolutions(series: Series) -> list[Revolution]:
    """Return the strokes of a run, with their means."""
    state = StrokeState()
    ended: list[Revolution] = []
    for t_ns, angle, row in zip(series.t_ns, series.angle_rad, series.values, strict=True):
        if np.isnan(angle):
            state = StrokeState()
            continue
        state, new = strokes.step(state, Sample(int(t_ns), float(angle), row))
        ended += new
    return ended


def live_means(series: Series) -> FloatArray:
    """Return the means over the last 360 degrees at each time, (n, m), NaN = unknown."""
    state = StrokeState()
    result = np.full(series.values.shape, np.nan)
    for i, (t_ns, angle) in enumerate(zip(series.t_ns, series.angle_rad, strict=True)):
        if np.isnan(angle):
            state = StrokeState()
            continue
        state, _ = strokes.step(state, Sample(int(t_ns), float(angle), series.values[i]))
        now = strokes.live(state)
        if now is not None:
            result[i] = now.means
    return result


def paired_means(measured: Series, exact: Series) -> tuple[FloatArray, FloatArray]:
    """Return the measured stroke means and the exact means over the same spans, (k, m) each."""
    exact_live = live_means(exact)
    pairs = []
    for revolution in revolutions(measured):
        at = int(np.argmin(np.abs(exact.t_ns - revolution.end_ns)))
        pairs.append((revolution.means, exact_live[at]))
    if not pairs:
        nothing = np.empty((0, measured.values.shape[1]))
        return nothing, nothing
    first, second = (np.array(side) for side in zip(*pairs, strict=True))
    known = np.isfinite(first).all(axis=1) & np.isfinite(second).all(axis=1)
    return first[known], second[known]


def angle_errors_deg(measured: Series, exact: Series) -> FloatArray:
    """Return measured minus exact crank angle about its circular mean, degrees, settled part."""
    settled = measured.t_ns >= measured.t_ns[0] + SETTLING_S * 1e9
    off = (measured.angle_rad - exact.angle_rad)[settled]
    off_deg = np.degrees(off[np.isfinite(off)])
    middle_deg, _ = circular_mean_deg(off_deg)
    return np.asarray((off_deg - middle_deg + 180.0) % 360.0 - 180.0, np.float64)


def cadence_errors_rpm(measured: Series, exact: Series, window_s: float = 10.0) -> FloatArray:
    """Return measured minus exact cadence over every window of so many seconds."""
    step = round(window_s / (np.median(np.diff(exact.t_ns)) / 1e9))
    turned = [s.angle_rad[step:] - s.angle_rad[:-step] for s in (measured, exact)]
    errors = (turned[0] - turned[1]) / (2 * np.pi) / window_s * 60.0
    return errors[np.isfinite(errors)]


def slope(measured: FloatArray, exact: FloatArray) -> float:
    """Return the change measured per unit of exact change (least squares)."""
    return float(np.polyfit(exact, measured, 1)[0])


def smallest_flexion_deg(series: Series, centre: Sequence[float], column: int) -> FloatArray:
    """Return the knee's smallest flexion of each whole stroke, (k,) degrees, with its end first.

    Each stroke's curve is the target's centre plus a few harmonics of the stroke's own deviation:
    the smallest of noisy samples alone would be biased low. The result is (k, 2): end in ns, value.
    """
    coefficients = np.asarray(centre)
    grid = np.linspace(0, 2 * np.pi, 361)
    base = harmonics.evaluate(coefficients, grid)
    found = []
    for revolution in revolutions(series):
        inside = (series.t_ns >= revolution.start_ns) & (series.t_ns < revolution.end_ns)
        inside &= np.isfinite(series.values[:, column]) & np.isfinite(series.angle_rad)
        if revolution.reasons[column] is not None or np.count_nonzero(inside) < 10:
            continue
        angles = series.angle_rad[inside]
        off = series.values[inside, column] - harmonics.evaluate(coefficients, angles)
        own = harmonics.fit(angles, off, STROKE_CURVE_ORDER)
        found.append((revolution.end_ns, float((base + harmonics.evaluate(own, grid)).min())))
    return np.array(found).reshape(-1, 2)
