"""How two targets of one rider differ: their centre curves, and how much of that can be told."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from posewatch.core import channels, harmonics
from posewatch.core.envelope import ANGLE_CHANNELS, Target, Unit
from posewatch.core.records import BODY_CHANNELS, Channel
from posewatch.core.resolution import told_between

#: The curves are compared at whole degrees of crank.
CRANK_DEG = np.arange(360.0)
HAND_PARTS = ("forward", "up")


@dataclass(frozen=True, slots=True)
class CurveDifference:
    """How much one curve of the second target lies above the first one's, in ``unit``.

    part: forward or up for the hand place, else empty. largest: the one furthest from zero, at
    largest_deg of crank. told: the least difference of the means that is told.
    """

    channel: Channel
    part: str
    unit: Unit
    mean: float
    largest: float
    largest_deg: float
    told: float

    @property
    def ratio(self) -> float:
        """The mean difference in units of what is told; infinite where there is no noise."""
        if self.told > 0:
            return abs(self.mean) / self.told
        return math.inf if self.mean else 0.0


@dataclass(frozen=True, slots=True)
class TargetDifference:
    """Differences of all curves, and what stands in the way of comparing them.

    obstacles: how the chains, sides or units differ; places are compared only without any.
    Uncalibrated places also need a camera that stayed where it was.
    """

    curves: tuple[CurveDifference, ...]
    obstacles: tuple[str, ...]


def difference(first: Target, second: Target) -> TargetDifference:
    """Return how the second target differs from the first; with obstacles, the angles alone."""
    obstacles = _obstacles(first, second)
    wanted = ANGLE_CHANNELS if obstacles else BODY_CHANNELS
    found = tuple(
        _curve(first, second, channel, row)
        for channel in wanted
        for row in range(len(channels.COLUMNS[channel]))
    )
    return TargetDifference(found, obstacles)


def _obstacles(first: Target, second: Target) -> tuple[str, ...]:
    found = [f"chain: {part}" for part in first.chain.differences(second.chain)]
    if first.side is not second.side:
        found.append(f"near side: {first.side} / {second.side}")
    if first.length_unit is not second.length_unit:
        found.append(f"places in: {first.place_unit} / {second.place_unit}")
    return tuple(found)


def _curve(first: Target, second: Target, channel: Channel, row: int) -> CurveDifference:
    turns = np.radians(CRANK_DEG)
    before, after = (
        harmonics.evaluate(np.array(target.envelope(channel).centre[row]), turns)
        for target in (first, second)
    )
    held = first.envelope(channel)
    # Fractions of the thigh are of each target's own; one rider's thigh is the same.
    if held.unit is Unit.THIGH:
        after = after * (second.segments.thigh / first.segments.thigh)
    away = after - before
    furthest = int(np.argmax(np.abs(away)))
    parts = HAND_PARTS if channel is Channel.HAND_PLACE else ("",)
    return CurveDifference(
        channel,
        parts[row],
        held.unit,
        float(np.mean(away)),
        float(away[furthest]),
        float(CRANK_DEG[furthest]),
        told_between(first, second, channel),
    )
