"""Do the sensor and the camera see one and the same crank? Their cadences are held together.

A cadence sensor of another bike in the room, a magnet that is passed unseen, or a crank angle that
follows the wrong thing all show as a lasting difference. It is told, and judges nothing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from statistics import fmean

from posewatch.core.outputs import CadenceDiffers
from posewatch.core.records import NS_PER_S, Effort

LIMIT_RPM = 3.0
#: Both are means over so long, of which strokes must fill the second number.
MEAN_OVER_NS = 10 * NS_PER_S
FILLED_NS = 8 * NS_PER_S
MIN_READINGS = 4
#: A difference lasts when it was over the limit for so long without a break.
LASTS_NS = 5 * NS_PER_S
#: Readings are kept this much longer than strokes, which are judged up to two seconds late.
LATE_NS = 3 * NS_PER_S


@dataclass(frozen=True, slots=True)
class CadenceCheckState:
    """The last strokes (start, end) and the sensor's readings (time, rpm), oldest first.

    since_ns: since when they differ, None = they do not. told: this difference was told.
    """

    strokes: tuple[tuple[int, int], ...] = ()
    readings: tuple[tuple[int, float], ...] = ()
    since_ns: int | None = None
    told: bool = False


def take_effort(state: CadenceCheckState, reading: Effort) -> CadenceCheckState:
    """Take in one sensor reading; one without a cadence is left out."""
    if math.isnan(reading.cadence_rpm):
        return state
    oldest_ns = reading.t_ns - MEAN_OVER_NS - LATE_NS
    kept = (pair for pair in state.readings if pair[0] > oldest_ns)
    return replace(state, readings=(*kept, (reading.t_ns, reading.cadence_rpm)))


def take_stroke(
    state: CadenceCheckState, start_ns: int, end_ns: int
) -> tuple[CadenceCheckState, tuple[CadenceDiffers, ...]]:
    """Take in a stroke that the camera saw throughout; return a difference that has come to last.

    A difference is told once, and again only after the two have agreed in between.
    """
    kept = (one for one in state.strokes if one[0] >= end_ns - MEAN_OVER_NS)
    state = replace(state, strokes=(*kept, (start_ns, end_ns)))
    difference_rpm = _difference_rpm(state)
    if math.isnan(difference_rpm):
        return state, ()
    if abs(difference_rpm) <= LIMIT_RPM:
        return replace(state, since_ns=None, told=False), ()
    since_ns = end_ns if state.since_ns is None else state.since_ns
    lasts = end_ns - since_ns >= LASTS_NS
    told = (CadenceDiffers(end_ns, difference_rpm),) if lasts and not state.told else ()
    return replace(state, since_ns=since_ns, told=lasts), told


def _difference_rpm(state: CadenceCheckState) -> float:
    """Return sensor minus camera over the strokes kept, NaN where either says too little."""
    took_ns = sum(end_ns - start_ns for start_ns, end_ns in state.strokes)
    begin_ns, last_ns = state.strokes[0][0], state.strokes[-1][1]
    said = [rpm for t_ns, rpm in state.readings if begin_ns < t_ns <= last_ns]
    if took_ns < FILLED_NS or len(said) < MIN_READINGS:
        return math.nan
    return fmean(said) - 60.0 * NS_PER_S * len(state.strokes) / took_ns
