"""Power and cadence for the hold: windows, and the moment when a stroke can be judged.

Power and cadence are means over the last five strokes or three seconds, whichever is longer. A
stroke waits for the first reading at or after its end, at most two seconds; a later one does not
reopen it. Where no sensor gives the cadence, the strokes themselves do.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import fmean

from posewatch.core.records import NS_PER_S, Effort

WINDOW_STROKES = 5
WINDOW_NS = 3 * NS_PER_S
LONGEST_WAIT_NS = 2 * NS_PER_S
#: Twice the longest window is enough to judge any stroke still waiting.
KEPT_NS = 20 * NS_PER_S


@dataclass(frozen=True, slots=True)
class EffortState:
    """The latest readings, oldest first."""

    readings: tuple[Effort, ...] = ()


def add(state: EffortState, reading: Effort) -> EffortState:
    """Keep one reading; one that is not newer than the last is left out."""
    readings = state.readings
    if readings and reading.t_ns <= readings[-1].t_ns:
        return state
    oldest_ns = reading.t_ns - KEPT_NS
    return EffortState((*(r for r in readings if r.t_ns >= oldest_ns), reading))


def gives_cadence(state: EffortState) -> bool:
    """Tell whether a sensor gives the cadence."""
    return any(not math.isnan(reading.cadence_rpm) for reading in state.readings)


def has_arrived(state: EffortState, end_ns: int, now_ns: int) -> bool:
    """Tell whether a stroke that ended at end_ns can be judged now."""
    arrived = bool(state.readings) and state.readings[-1].t_ns >= end_ns
    return arrived or now_ns - end_ns >= LONGEST_WAIT_NS


def window_mean(state: EffortState, quantity: str, end_ns: int, five_strokes_ns: int) -> float:
    """Return the mean of "power_w" or "cadence_rpm" over the window, NaN without a reading.

    A reading stands for the time up to it; the one that ends after the stroke does is the newest
    used.
    """
    begin_ns = end_ns - max(five_strokes_ns, WINDOW_NS)
    values = []
    for reading in state.readings:
        if reading.t_ns > end_ns + LONGEST_WAIT_NS:
            break
        value = float(getattr(reading, quantity))
        if reading.t_ns > begin_ns and not math.isnan(value):
            values.append(value)
        if reading.t_ns >= end_ns:
            return fmean(values) if values else math.nan
    return math.nan
