"""Crank angle from the near ankle, picture by picture.

A Kalman filter on angle and speed (white acceleration) turns the ankle's angle about its circle
into a causal estimate. The model's left and right may swap from one picture to the next, which
looks like half a turn: both ankles are held against the prediction, and the filter is never
started anew while the crank turns.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from posewatch.core.pedal_circle import (
    NO_MAP,
    TURN,
    WIDEST_GAP_RAD,
    CrankGeometry,
    Point,
    circle_angle,
    fit_circle,
    is_on_circle,
    mapped_angle,
)
from posewatch.core.records import NS_PER_S

#: Angular acceleration noise, rad^2/s^3, and measurement SD: see the accuracy table in README.
ACCELERATION_NOISE = 3.0
MEASUREMENT_SD_RAD = math.radians(5.0)
GATE_SD = 4.0
#: Without a measurement for this long the angle is unknown and is taken up afresh.
LOCK_KEPT_S = 1.0
#: Below this speed nothing is learned of circle, map and ankling: a slow foot wanders.
FROZEN_BELOW_RAD_S = 40.0 * TURN / 60.0

#: This many near ankles in a row off the prediction, on a line of their own (RMS), at a speed that
#: differs from the filter's by this share and amount: the crank changed its pace.
PACE_POINTS = 4
PACE_RMS_RAD = math.radians(8.0)
PACE_CHANGE = 0.3
PACE_CHANGE_RAD_S = 1.0
#: How well the speed is known after such a change, and when the angle is first taken up (a sprint).
RETAKEN_SPEED_SD_RAD_S = 2.0
STARTING_SPEED_SD_RAD_S = 10.0

#: First circle: this much of the past is fitted, once it covers the circle without a wide gap.
FIRST_FIT_S = 2.0
FIRST_FIT_MIN_POINTS = 12
FIRST_FIT_WORST_RMS = 0.25
#: The ankle's circle has about the crank's radius, 165-180 mm, on a thigh of 380-480 mm.
FIRST_FIT_RADIUS_THIGHS = (0.25, 0.6)


#: (t_ns, angle_rad) of near ankles that did not fit the prediction.
Misses = tuple[tuple[int, float], ...]


@dataclass(frozen=True, slots=True)
class CrankState:
    """The filter's state. angle_rad counts on over turns; variances in rad, s.

    recent: near ankles (t_ns, x, y) while no circle is known. missed: (t_ns, angle_rad) of near
    ankles that did not fit the prediction.
    """

    geometry: CrankGeometry | None = None
    turning: bool = False
    t_ns: int = 0
    measured_ns: int = 0
    angle_rad: float = 0.0
    speed_rad_s: float = 0.0
    var_angle: float = 0.0
    covar: float = 0.0
    var_speed: float = 0.0
    recent: tuple[tuple[int, float, float], ...] = ()
    missed: Misses = ()


@dataclass(frozen=True, slots=True)
class CrankReading:
    """The estimate after one picture; known is False until a circle and an angle are there.

    angle_rad counts on over turns (0 modulo 2 pi = top). swapped: the other label's ankle fitted,
    the model had mixed up the legs. measured: this picture's ankle was used.
    """

    known: bool
    angle_rad: float = math.nan
    speed_rad_s: float = math.nan
    measured: bool = False
    swapped: bool = False


UNKNOWN = CrankReading(known=False)


def step(
    state: CrankState, t_ns: int, near: Point | None, other: Point | None, thigh: float
) -> tuple[CrankState, CrankReading]:
    """Take in one picture's ankles.

    Args:
        state: as returned last time, or ``CrankState(geometry)`` at the start.
        t_ns: time of the picture, rising.
        near: the ankle that carries the near side's label, None where not believed.
        other: the ankle that carries the far side's label, None where not believed.
        thigh: length of the thigh, for judging a first circle; NaN = not known.
    """
    if state.geometry is None:
        return _look_for_circle(state, t_ns, near, thigh), UNKNOWN
    if state.turning and t_ns - state.measured_ns > LOCK_KEPT_S * NS_PER_S:
        state = replace(state, turning=False)
    if not state.turning:
        return _take_up(state, t_ns, near)
    predicted = _predict(state, t_ns)
    off_near = None if near is None else _innovation(predicted, near)
    if off_near is not None:
        updated = _update(predicted, off_near)
        return updated, _reading(updated, True, False)
    missed = _remember_miss(state, t_ns, near)
    changed = _changed_pace(missed, predicted.speed_rad_s)
    if changed is not None:
        updated = replace(
            predicted,
            measured_ns=t_ns,
            angle_rad=changed[0],
            speed_rad_s=changed[1],
            var_angle=MEASUREMENT_SD_RAD**2,
            covar=0.0,
            var_speed=RETAKEN_SPEED_SD_RAD_S**2,
            missed=(),
        )
        return updated, _reading(updated, True, False)
    off_other = None if other is None else _innovation(predicted, other)
    if off_other is not None:
        updated = _update(predicted, off_other, missed)
        return updated, _reading(updated, True, True)
    predicted = replace(predicted, missed=missed)
    return predicted, _reading(predicted, False, False)


def _reading(state: CrankState, measured: bool, swapped: bool) -> CrankReading:
    return CrankReading(True, state.angle_rad, state.speed_rad_s, measured, swapped)


def _predict(state: CrankState, t_ns: int) -> CrankState:
    dt = (t_ns - state.t_ns) / NS_PER_S
    q = ACCELERATION_NOISE
    return replace(
        state,
        t_ns=t_ns,
        angle_rad=state.angle_rad + state.speed_rad_s * dt,
        var_angle=state.var_angle + dt * (2 * state.covar + dt * state.var_speed) + q * dt**3 / 3,
        covar=state.covar + dt * state.var_speed + q * dt**2 / 2,
        var_speed=state.var_speed + q * dt,
    )


def _innovation(predicted: CrankState, point: Point) -> float | None:
    """Return measured minus predicted angle, or None where the ankle does not fit."""
    geometry = predicted.geometry
    assert geometry is not None
    if not is_on_circle(geometry, point):
        return None
    angle = mapped_angle(geometry.angle_map, circle_angle(geometry, point))
    off = math.remainder(angle - predicted.angle_rad, TURN)
    gate = GATE_SD * math.sqrt(predicted.var_angle + MEASUREMENT_SD_RAD**2)
    return off if abs(off) <= gate else None


def _remember_miss(state: CrankState, t_ns: int, near: Point | None) -> Misses:
    """Keep the near ankle's angles that did not fit the prediction, counted on over turns."""
    geometry = state.geometry
    if near is None or geometry is None or not is_on_circle(geometry, near):
        return state.missed
    angle = mapped_angle(geometry.angle_map, circle_angle(geometry, near))
    last = state.missed[-1][1] if state.missed else state.angle_rad
    return (*state.missed, (t_ns, last + math.remainder(angle - last, TURN)))[-PACE_POINTS:]


def _changed_pace(missed: Misses, speed_rad_s: float) -> tuple[float, float] | None:
    """Return angle and speed where the misses lie on a line of their own, else None.

    A crank that stops faster than the filter follows makes such a line. Legs mixed up for a while
    make one too, but at the filter's own speed: that is a swap and no reason to start anew.
    """
    if len(missed) < PACE_POINTS:
        return None
    t_s = np.array([(t - missed[-1][0]) / NS_PER_S for t, _ in missed])
    angles = np.array([angle for _, angle in missed])
    speed, now = np.polyfit(t_s, angles, 1)
    off = angles - (now + speed * t_s)
    if np.sqrt(np.mean(off**2)) > PACE_RMS_RAD or t_s[0] < -LOCK_KEPT_S:
        return None
    if abs(speed - speed_rad_s) < PACE_CHANGE * abs(speed_rad_s) + PACE_CHANGE_RAD_S:
        return None
    return float(now), float(speed)


def _update(predicted: CrankState, off_rad: float, missed: Misses = ()) -> CrankState:
    total = predicted.var_angle + MEASUREMENT_SD_RAD**2
    gain_angle, gain_speed = predicted.var_angle / total, predicted.covar / total
    return replace(
        predicted,
        measured_ns=predicted.t_ns,
        angle_rad=predicted.angle_rad + gain_angle * off_rad,
        speed_rad_s=predicted.speed_rad_s + gain_speed * off_rad,
        var_angle=(1 - gain_angle) * predicted.var_angle,
        covar=(1 - gain_angle) * predicted.covar,
        var_speed=predicted.var_speed - gain_speed * predicted.covar,
        missed=missed,
    )


def _take_up(state: CrankState, t_ns: int, near: Point | None) -> tuple[CrankState, CrankReading]:
    """Start the angle from one ankle, at a speed that is wide open."""
    geometry = state.geometry
    if near is None or geometry is None or not is_on_circle(geometry, near):
        return replace(state, t_ns=t_ns), UNKNOWN
    angle = mapped_angle(geometry.angle_map, circle_angle(geometry, near))
    turns = math.ceil((state.angle_rad - angle) / TURN)
    started = replace(
        state,
        turning=True,
        t_ns=t_ns,
        measured_ns=t_ns,
        angle_rad=angle + TURN * turns,
        speed_rad_s=0.0,
        var_angle=MEASUREMENT_SD_RAD**2,
        covar=0.0,
        var_speed=STARTING_SPEED_SD_RAD_S**2,
        missed=(),
    )
    return started, CrankReading(True, started.angle_rad, 0.0, True)


def _look_for_circle(state: CrankState, t_ns: int, near: Point | None, thigh: float) -> CrankState:
    if near is None:
        return state
    oldest = t_ns - int(FIRST_FIT_S * NS_PER_S)
    recent = (*(p for p in state.recent if p[0] >= oldest), (t_ns, *near))
    if len(recent) < FIRST_FIT_MIN_POINTS:
        return replace(state, recent=recent)
    points = np.array([p[1:] for p in recent])
    circle = fit_circle(points)
    low, high = FIRST_FIT_RADIUS_THIGHS
    angles = np.sort(np.arctan2(points[:, 0] - circle[0], points[:, 1] - circle[1]))
    gaps = np.diff(np.append(angles, angles[0] + TURN))
    distances = np.hypot(points[:, 0] - circle[0], points[:, 1] - circle[1])
    rms = float(np.sqrt(np.mean((distances - circle[2]) ** 2)))
    if (
        low * thigh <= circle[2] <= high * thigh
        and gaps.max() <= WIDEST_GAP_RAD
        and rms <= FIRST_FIT_WORST_RMS * circle[2]
    ):
        return CrankState(CrankGeometry(*circle, NO_MAP), t_ns=t_ns)
    return replace(state, recent=recent)
