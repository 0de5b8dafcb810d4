"""Slow creep: a rider who stays in band and is yet not where he was minutes ago.

Each channel's mean over the last strokes is held against its mean some minutes before. Creep warns
and never judges: the strokes stay as they were counted.
"""

from __future__ import annotations

from dataclasses import dataclass
from statistics import fmean

from posewatch.core.envelope import ANGLE_CHANNELS, Unit
from posewatch.core.outputs import ChannelValue, CreepWarning
from posewatch.core.records import NS_PER_S, Channel, Verdict

ANGLE_LIMIT_DEG, ANGLE_SPAN_NS = 1.5, 300 * NS_PER_S
PLACE_LIMIT_MM, PLACE_SPAN_NS = 4.0, 180 * NS_PER_S
PLACE_CHANNELS = (Channel.SITTING_PLACE, Channel.PELVIS_HEIGHT)
WATCHED = (*ANGLE_CHANNELS, *PLACE_CHANNELS)
#: Means are taken over so long, and need so many strokes, at either end of the span.
MEAN_OVER_NS = 20 * NS_PER_S
MIN_STROKES = 8


@dataclass(frozen=True, slots=True)
class CreepState:
    """Stroke values of the last minutes, oldest first, and when each channel last warned.

    values: pairs of a stroke's end and its deviations in the order of WATCHED.
    """

    values: tuple[tuple[int, tuple[float, ...]], ...] = ()
    warned: tuple[tuple[Channel, int], ...] = ()


def step(
    state: CreepState, end_ns: int, channels: tuple[ChannelValue, ...], place_unit: Unit
) -> tuple[CreepState, tuple[CreepWarning, ...]]:
    """Take in one good stroke's channels; one with an unknown channel is left out.

    place_unit: what the target's places are in.
    """
    found = {v.channel: v for v in channels}
    if any(found[c].verdict is Verdict.UNKNOWN for c in WATCHED):
        return state, ()
    row = tuple(found[c].deviation for c in WATCHED)
    oldest_ns = end_ns - ANGLE_SPAN_NS - MEAN_OVER_NS
    values = (*(v for v in state.values if v[0] > oldest_ns), (end_ns, row))
    warned = dict(state.warned)
    warnings = []
    for column, channel in enumerate(WATCHED):
        limit, span_ns = _limit(channel, place_unit)
        if end_ns - warned.get(channel, -span_ns) < span_ns:
            continue
        now = _mean(values, column, end_ns - MEAN_OVER_NS, end_ns)
        before = _mean(values, column, end_ns - span_ns - MEAN_OVER_NS, end_ns - span_ns)
        if now is not None and before is not None and abs(now - before) > limit:
            warned[channel] = end_ns
            unit = Unit.DEG if channel in ANGLE_CHANNELS else place_unit
            warnings.append(CreepWarning(end_ns, channel, now - before, span_ns, unit))
    return CreepState(values, tuple(warned.items())), tuple(warnings)


def _limit(channel: Channel, place_unit: Unit) -> tuple[float, int]:
    """Return a channel's largest change, in its envelope's unit, and over how long."""
    if channel in ANGLE_CHANNELS:
        return ANGLE_LIMIT_DEG, ANGLE_SPAN_NS
    return PLACE_LIMIT_MM / place_unit.nominal, PLACE_SPAN_NS


def _mean(
    values: tuple[tuple[int, tuple[float, ...]], ...], column: int, begin_ns: int, end_ns: int
) -> float | None:
    inside = [row[column] for t_ns, row in values if begin_ns < t_ns <= end_ns]
    return fmean(inside) if len(inside) >= MIN_STROKES else None
