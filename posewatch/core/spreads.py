"""How much a channel scatters at capture: from stroke to stroke, and from sit to sit."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from posewatch.core import channels
from posewatch.core.envelope import (
    ADVISORY_BY_DEFAULT,
    ANGLE_CHANNELS,
    DEFAULT_TOLERANCE,
    SHAPE_REQUIRED_BY_DEFAULT,
    SITS_WANTED,
    Envelope,
    Unit,
)
from posewatch.core.records import Channel, FloatArray
from posewatch.core.sits import Sit

SHAPE_FACTOR = 1.5
SHAPE_PERCENTILE = 95.0
#: A shape limit is never under this share of tol: a band narrower than the measurement's own noise
#: gives only false losses, and a rider's rocking is not the same from one ride to the next.
SHAPE_LEAST = 0.25


def channel_envelope(
    channel: Channel, sits: Sequence[Sit], centres: FloatArray, place_unit: Unit
) -> Envelope:
    """Return a channel's envelope with the default tolerance.

    Args:
        channel: a body channel.
        sits: with the strokes used.
        centres: (1 + 2 order, 9) centre curves.
        place_unit: what places are in.
    """
    columns = list(channels.COLUMNS[channel])
    means = [np.array([r.means[columns] for r in sit.good]) for sit in sits]
    spreads = [channels.channel_size(channel, r.spreads) for sit in sits for r in sit.good]
    unit = Unit.DEG if channel in ANGLE_CHANNELS else place_unit
    tol = DEFAULT_TOLERANCE[channel] / unit.nominal
    shape = SHAPE_FACTOR * float(np.percentile(np.abs(spreads), SHAPE_PERCENTILE))
    return Envelope(
        channel,
        unit,
        tol,
        channel not in ADVISORY_BY_DEFAULT,
        stroke_sd(means),
        stroke_lag1(means),
        resit_sd(means),
        max(shape, SHAPE_LEAST * tol),
        channel in SHAPE_REQUIRED_BY_DEFAULT,
        tuple(tuple(float(c) for c in centres[:, column]) for column in columns),
    )


def stroke_sd(means: Sequence[FloatArray]) -> float:
    """Return the spread of stroke values about their sit's mean.

    means: per sit (n_strokes, n_parts); a place's two parts add as a distance does.
    """
    squares = sum(float(np.sum((m - m.mean(axis=0)) ** 2)) for m in means)
    return math.sqrt(squares / max(1, sum(len(m) - 1 for m in means)))


def stroke_lag1(means: Sequence[FloatArray]) -> float:
    """Return the autocorrelation of successive stroke values within sits, -1 to 1."""
    off = [m - m.mean(axis=0) for m in means]
    products = sum(float(np.sum(o[1:] * o[:-1])) for o in off)
    squares = sum(float(np.sum(o**2)) for o in off)
    return products / squares if squares > 0 else 0.0


def resit_sd(means: Sequence[FloatArray]) -> float | None:
    """Return the spread of the sits' means, None under three sits."""
    if len(means) < SITS_WANTED:
        return None
    sit_means = np.array([m.mean(axis=0) for m in means])
    return math.sqrt(float(np.sum(np.var(sit_means, axis=0, ddof=1))))
