"""The near leg as a chain: hip, knee and ankle that belong together, from pictures that jitter.

Where the joints are over the crank circle was captured with the target. What is followed is how far
hip and ankle are off that curve: the rider slides, the ankling changes. The knee follows from both,
since thigh and shank keep the lengths they were seen with at that crank angle. A Kalman filter on
these four numbers, which wander slowly, makes the best of all six coordinates; a joint that is not
believed is carried by the others.

Causal. The filter lags behind a change of the hip by about 0.13 s and of the ankle by about 0.3 s
at 30 pictures a second (:func:`lag_s`); the pedalling itself, which the curves hold, is not
delayed.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from posewatch.core import harmonics
from posewatch.core.records import NS_PER_S, BoolArray, FloatArray

CURVE_ORDER = 6
#: SD of one picture's hip, knee and ankle along each axis about the curves, thighs: what the pose
#: model leaves after its error that is locked to the crank angle (README, accuracy table).
NOISE_THIGHS = np.repeat((0.011, 0.019, 0.024), 2)
#: How far hip and ankle wander from their curves, thighs a root second: slower, and a foot that
#: swings otherwise would be flattened; faster, and the jitter stays.
WANDER_THIGHS = 0.014
#: At the start they may be this far off (thighs).
START_THIGHS = 0.08
#: A coordinate this many SDs off its prediction is not this leg's.
GATE_SD = 6.0
#: When believed joints have not fitted for so long, the filter starts anew where they are.
RETAKEN_AFTER_NS = NS_PER_S // 2
#: The hip is carried by knee and ankle for at most so many turns.
CARRIED_TURNS = 3.0
N_COORDINATES = 6

TURN = 2.0 * math.pi


@dataclass(frozen=True, slots=True)
class LegCurves:
    """Hip, knee and ankle over the crank circle at capture, in the target's length unit.

    curves: x and y of hip, knee and ankle in this order, each in the order of ``harmonics.basis``.
    thigh: the thigh's length, by which the filter's spreads are scaled.
    """

    curves: tuple[tuple[float, ...], ...]
    thigh: float


@dataclass(frozen=True, slots=True, eq=False)
class LegModel:
    """Curves made ready for pictures.

    curves: (1 + 2 order, 6) float64. variances: (6,) of one picture's coordinates. wander: of an
    offset a second. start: of an offset at first.
    """

    curves: FloatArray
    variances: FloatArray
    wander: float
    start: float
    thigh: float


@dataclass(frozen=True, slots=True, eq=False)
class LegState:
    """How far hip (x, y) and ankle (x, y) are off their curves, (4,), and how sure that is, (4, 4).

    hip_rad: the crank angle at which the hip was last seen. fitted_ns: when every joint that was
    believed fitted.
    """

    off: FloatArray
    covariance: FloatArray
    t_ns: int
    hip_rad: float
    fitted_ns: int


@dataclass(frozen=True, slots=True, eq=False)
class LegEstimate:
    """Hip, knee and ankle as filtered, (3, 2) float64.

    carried: the hip was not believed and comes from the others.
    """

    points: FloatArray
    carried: bool


def leg_model(leg: LegCurves) -> LegModel:
    """Return curves made ready for pictures."""
    return LegModel(
        np.array(leg.curves).T,
        (NOISE_THIGHS * leg.thigh) ** 2,
        (WANDER_THIGHS * leg.thigh) ** 2,
        (START_THIGHS * leg.thigh) ** 2,
        leg.thigh,
    )


def learn(angle_rad: FloatArray, points: FloatArray, thigh: float) -> LegCurves:
    """Return the curves of a recording.

    Args:
        angle_rad: (n,) crank angles.
        points: (n, 3, 2) hip, knee and ankle, finite.
        thigh: the thigh's length, same unit.
    """
    table = harmonics.fit(angle_rad, points.reshape(len(points), N_COORDINATES), CURVE_ORDER)
    return LegCurves(tuple(tuple(float(c) for c in column) for column in table.T), thigh)


def step(
    model: LegModel,
    state: LegState | None,
    t_ns: int,
    angle_rad: float,
    points: FloatArray,
    believed: BoolArray,
) -> tuple[LegState, LegEstimate | None]:
    """Take in one picture's hip, knee and ankle.

    Args:
        model: of the target's curves.
        state: as returned last time, None at the start or after a break.
        t_ns: time of the picture, rising.
        angle_rad: crank angle, counting on over turns.
        points: (3, 2) float64 in the length unit; NaN where not seen.
        believed: (3,) bool.

    Returns the state and the estimate, None where nothing may be said: a hip that is seen does not
    fit (the rider may have left the saddle), or one that is not has been away for more than
    CARRIED_TURNS, or has no knee and ankle to carry it.
    """
    state = _predict(model, state, t_ns, angle_rad)
    curve = harmonics.evaluate(model.curves, np.array((angle_rad,)))[0].tolist()
    rows, variances = _design(curve), model.variances.tolist()
    off, covariance = state.off.tolist(), state.covariance.tolist()
    seen = [now - usual for now, usual in zip(points.ravel().tolist(), curve, strict=True)]
    fits = [False, False, False]
    # One coordinate after the other is the same as all at once, their noise being independent; the
    # ends of the leg go first, so that the knee is held against what they say.
    for joint in (0, 2, 1):
        if not believed[joint]:
            continue
        pair = (2 * joint, 2 * joint + 1)
        alongs = [_along(rows[i], covariance) for i in pair]
        fits[joint] = all(
            abs(seen[i] - _dot(rows[i], off))
            <= GATE_SD * math.sqrt(_dot(rows[i], along) + variances[i])
            for i, along in zip(pair, alongs, strict=True)
        )
        if fits[joint]:
            for i in pair:
                off, covariance = _update(off, covariance, rows[i], variances[i], seen[i])
    state = LegState(
        np.array(off),
        np.array(covariance),
        t_ns,
        angle_rad if fits[0] else state.hip_rad,
        t_ns if fits == believed.tolist() else state.fitted_ns,
    )
    carried = not believed[0]
    may_carry = fits[1] and fits[2] and angle_rad - state.hip_rad <= CARRIED_TURNS * TURN
    if not (may_carry if carried else fits[0]):
        return state, None
    filtered = [usual + _dot(row, off) for usual, row in zip(curve, rows, strict=True)]
    return state, LegEstimate(np.array(filtered).reshape(3, 2), carried)


def _dot(row: Sequence[float], off: Sequence[float]) -> float:
    return row[0] * off[0] + row[1] * off[1] + row[2] * off[2] + row[3] * off[3]


def _along(row: Sequence[float], covariance: list[list[float]]) -> list[float]:
    """Return how the offsets vary with one coordinate: the covariance times its row."""
    if row in ENDS:  # hip and ankle are the offsets themselves
        return covariance[ENDS.index(row)]
    return [_dot(line, row) for line in covariance]


def _update(
    off: list[float],
    covariance: list[list[float]],
    row: Sequence[float],
    variance: float,
    seen: float,
) -> tuple[list[float], list[list[float]]]:
    """Return offsets and covariance after one coordinate: the Kalman update, written out."""
    along = _along(row, covariance)
    total = _dot(row, along) + variance
    surprise = (seen - _dot(row, off)) / total
    gains = [a / total for a in along]
    first, second, third, fourth = along
    return (
        [o + a * surprise for o, a in zip(off, along, strict=True)],
        [
            [w - g * first, x - g * second, y - g * third, z - g * fourth]
            for (w, x, y, z), g in zip(covariance, gains, strict=True)
        ],
    )


def lag_s(model: LegModel, rate_hz: float) -> tuple[float, float]:
    """Return how long hip and ankle lag behind a change, s: pictures over the steady gain."""
    lags = []
    for row in (0, 4):
        noise, wander = float(model.variances[row]), model.wander / rate_hz
        # Steady gain of a random walk seen with noise, one coordinate alone: the knee only helps.
        variance = (wander + math.sqrt(wander * wander + 4.0 * wander * noise)) / 2.0
        gain = variance / (variance + noise)
        lags.append((1.0 - gain) / gain / rate_hz)
    return lags[0], lags[1]


def _predict(model: LegModel, state: LegState | None, t_ns: int, angle_rad: float) -> LegState:
    if state is None or t_ns - state.fitted_ns > RETAKEN_AFTER_NS:
        return LegState(np.zeros(4), np.eye(4) * model.start, t_ns, angle_rad, t_ns)
    covariance = state.covariance.copy()
    covariance.flat[:: 4 + 1] += model.wander * (t_ns - state.t_ns) / NS_PER_S
    return LegState(state.off, covariance, t_ns, state.hip_rad, state.fitted_ns)


def _design(curve: Sequence[float]) -> list[tuple[float, float, float, float]]:
    """Return 6 rows of 4: how hip, knee and ankle move with the hip's and the ankle's offsets.

    To first order the thigh keeps its length if the knee moves along it as the hip does, the shank
    likewise: (knee - hip) . dknee = (knee - hip) . dhip, and so with the ankle.
    """
    hip_x, hip_y, knee_x, knee_y, ankle_x, ankle_y = curve
    thigh_x, thigh_y = knee_x - hip_x, knee_y - hip_y
    shank_x, shank_y = knee_x - ankle_x, knee_y - ankle_y
    crossed = thigh_x * shank_y - thigh_y * shank_x
    # A straight leg leaves the knee free across it: it then follows both ends by half.
    if abs(crossed) < STRAIGHT * math.hypot(thigh_x, thigh_y) * math.hypot(shank_x, shank_y):
        along, across = (0.5, 0.0, 0.5, 0.0), (0.0, 0.5, 0.0, 0.5)
    else:
        to_x, to_y = shank_y / crossed, -shank_x / crossed
        from_x, from_y = -thigh_y / crossed, thigh_x / crossed
        along = (to_x * thigh_x, to_x * thigh_y, from_x * shank_x, from_x * shank_y)
        across = (to_y * thigh_x, to_y * thigh_y, from_y * shank_x, from_y * shank_y)
    return [ENDS[0], ENDS[1], along, across, ENDS[2], ENDS[3]]


#: Rows of the hip's and the ankle's own coordinates.
ENDS = ((1.0, 0.0, 0.0, 0.0), (0.0, 1.0, 0.0, 0.0), (0.0, 0.0, 1.0, 0.0), (0.0, 0.0, 0.0, 1.0))
#: Sine of the knee's flexion below which its place across the leg is not told by the lengths.
STRAIGHT = 0.15
