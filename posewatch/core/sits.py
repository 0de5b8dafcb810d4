"""A recording in sits: from each sitting down to the next leaving of the saddle."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from posewatch.core import channels, gross_events, strokes
from posewatch.core.gross_events import GrossState, Moment
from posewatch.core.outputs import Reason
from posewatch.core.records import Channel, FloatArray
from posewatch.core.strokes import Revolution, Sample, StrokeState
from posewatch.core.tracking import Tracked

#: A stroke whose mean or spread lies this many robust SDs from its sit's median is unlike the rest.
OUTLIER_SD = 3.5
#: The robust SD is not taken below these: degrees, and mm.
SMALLEST_SD = np.array((0.3, 0.3, 0.3, 1.3, 1.3, 1.3, 1.3))
#: A sit of fewer strokes than this has no mean of its own.
SHORTEST_SIT = 8


@dataclass(frozen=True, slots=True, eq=False)
class Sit:
    """The strokes of one sit: n_known could be judged, good are those that are alike."""

    good: tuple[Revolution, ...]
    n_known: int


def part_into_sits(
    tracked: Sequence[Tracked], away: FloatArray, hip_off: FloatArray, nominal: float
) -> list[Sit]:
    """Return the sits of one recording, those with hardly a stroke left out.

    Args:
        tracked: its pictures.
        away: (n, 9) deviations from centre curves, NaN where not known.
        hip_off: (n, 2) of the hip from its place, also where the rest is not known.
        nominal: mm to one unit of a place.
    """
    found: list[Sit] = []
    gross, state = GrossState(), StrokeState()
    ended: list[Revolution] = []
    for one, row, hip in zip(tracked, away, hip_off, strict=True):
        gross, changes = gross_events.step(gross, _moment(one, row, hip, nominal))
        if any(c.reason is Reason.OUT_OF_SADDLE and c.begins for c in changes):
            found.append(_sit(ended, nominal))
            ended = []
        # Strokes out of the saddle, or with a hand off, are of no sit, however alike they are.
        pedalling = one.crank.known and not gross.under_way
        if changes or not pedalling:
            state = StrokeState()
        if pedalling:
            state, new = strokes.step(state, Sample(one.t_ns, one.crank.angle_rad, row))
            ended += new
    found.append(_sit(ended, nominal))
    return [sit for sit in found if len(sit.good) >= SHORTEST_SIT]


def _moment(one: Tracked, row: FloatArray, hip: FloatArray, nominal: float) -> Moment:
    along, up = (nominal * hip).tolist()
    hand = nominal * channels.channel_size(Channel.HAND_PLACE, row)
    speed = one.crank.speed_rad_s if one.crank.known else math.nan
    return Moment(one.t_ns, one.body.seen, along, up, hand, speed)


def _sit(revolutions: Sequence[Revolution], nominal: float) -> Sit:
    judged = slice(len(SMALLEST_SD))
    known = [r for r in revolutions if all(reason is None for reason in r.reasons[judged])]
    if not known:
        return Sit((), 0)
    smallest = SMALLEST_SD / np.array((1.0,) * 3 + (nominal,) * 4)
    kept = np.ones(len(known), np.bool_)
    for table in (
        np.array([r.means[judged] for r in known]),
        np.array([r.spreads[judged] for r in known]),
    ):
        middle = np.median(table, axis=0)
        robust_sd = 1.4826 * np.median(np.abs(table - middle), axis=0)
        limit = OUTLIER_SD * np.maximum(robust_sd, smallest)
        kept &= np.all(np.abs(table - middle) <= limit, axis=1)
    return Sit(tuple(r for r, keep in zip(known, kept, strict=True) if keep), len(known))
