"""Exact joints of the linkage rider's near leg, followed by the leg's chain."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from linkage_rider import CRANK_AXIS_PX, LEG, MM_PER_PX, Pose, leg_m

from posewatch.core import leg_chain
from posewatch.core.leg_chain import LegEstimate, LegState
from posewatch.core.records import FloatArray
from posewatch.core.timebase import to_ns

MODEL = leg_chain.leg_model(LEG)
RATE_HZ, RPM = 30.0, 90.0
ALL = (True, True, True)
NO_HIP = (False, True, True)
PX_PER_M = 1000.0 / MM_PER_PX

PoseAt = Callable[[float, float], Pose]
BelievedAt = Callable[[float], tuple[bool, bool, bool]]


def drawn(pose: Pose) -> FloatArray:
    """Return hip, knee and ankle as the flat picture shows them, (3, 2) px, y up."""
    return leg_m(pose) * PX_PER_M + CRANK_AXIS_PX * (1.0, -1.0)


@dataclass(frozen=True)
class Followed:
    """What was drawn, seen and estimated, picture by picture."""

    t_s: FloatArray
    true: FloatArray
    seen: FloatArray
    estimates: tuple[LegEstimate | None, ...]
    states: tuple[LegState, ...]

    def between(self, begin_s: float, end_s: float) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return true, seen and estimated legs of the pictures that have an estimate."""
        kept = [
            (true, seen, estimate.points)
            for t_s, true, seen, estimate in zip(
                self.t_s, self.true, self.seen, self.estimates, strict=True
            )
            if begin_s <= t_s < end_s and estimate is not None
        ]
        true, seen, estimated = (np.array(column) for column in zip(*kept, strict=True))
        return true, seen, estimated

    def silent_s(self) -> list[float]:
        """Return when nothing was estimated."""
        pairs = zip(self.t_s, self.estimates, strict=True)
        return [float(t_s) for t_s, estimate in pairs if estimate is None]


def follow(
    seconds: float,
    pose_at: PoseAt = lambda _, crank_deg: Pose(crank_deg),
    noise_px: float = 0.0,
    believed_at: BelievedAt = lambda _: ALL,
    seed: int = 1,
) -> Followed:
    random = np.random.default_rng(seed)
    state: LegState | None = None
    times = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    legs, points, estimates, states = [], [], [], []
    for t_s in times.tolist():
        crank_deg = 6.0 * RPM * t_s
        true = drawn(pose_at(t_s, crank_deg))
        believed = np.array(believed_at(t_s))
        seen = true + random.normal(0.0, noise_px, true.shape)
        seen[~believed] = np.nan
        state, estimate = leg_chain.step(
            MODEL, state, to_ns(t_s), math.radians(crank_deg), seen, believed
        )
        legs.append(true)
        points.append(seen)
        estimates.append(estimate)
        states.append(state)
    return Followed(times, np.array(legs), np.array(points), tuple(estimates), tuple(states))
