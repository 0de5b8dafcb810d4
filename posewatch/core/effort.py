"""Power and cadence for the hold: windows, silences, and the moment when a stroke can be judged.

Power and cadence are means over the last five strokes or three seconds, whichever is longer, and
come one packet interval late: a stroke waits for the first reading at or after its end, at most
two seconds; a later one does not reopen it. Each quantity has readings of its own, since they may
come from two sensors. Where no sensor gives the cadence, the strokes themselves do.

A quantity is **silent** from its last reading on, once the next one is overdue: after 1.5 s or
three of its usual intervals, whichever is longer. Nothing is known of the time between two readings
with a silence between them: a stroke that has any part of it there is unknown, and no window
reaches back across it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from statistics import fmean, median_low

from posewatch.core.records import NS_PER_S, Channel, Effort

WINDOW_STROKES = 5
WINDOW_NS = 3 * NS_PER_S
LONGEST_WAIT_NS = 2 * NS_PER_S
SILENT_AFTER_NS = 3 * NS_PER_S // 2
SILENT_AFTER_INTERVALS = 3
#: The usual interval is the median of so many of the last ones, and not known from fewer.
LAST_INTERVALS = 15
FEWEST_INTERVALS = 3
#: Twice the longest window is enough to judge any stroke still waiting.
KEPT_NS = 20 * NS_PER_S


@dataclass(frozen=True, slots=True)
class Reading:
    """One value of one quantity, which stands for the time since the reading before.

    anew: the first of all, or the first after a silence: it stands for nothing before itself.
    """

    t_ns: int
    value: float
    anew: bool


@dataclass(frozen=True, slots=True)
class Series:
    """The latest readings of one quantity, oldest first.

    silent_after_ns: it is silent when no reading has come for longer than this.
    """

    readings: tuple[Reading, ...] = ()
    silent_after_ns: int = SILENT_AFTER_NS


@dataclass(frozen=True, slots=True)
class EffortState:
    """What has come of either quantity."""

    power: Series = Series()
    cadence: Series = Series()

    def of(self, channel: Channel) -> Series:
        """Return the readings of an effort channel."""
        return self.power if channel is Channel.POWER else self.cadence


def add(state: EffortState, reading: Effort) -> EffortState:
    """Keep what one reading gives; NaN is no reading of that quantity."""
    return EffortState(
        append(state.power, reading.t_ns, reading.power_w),
        append(state.cadence, reading.t_ns, reading.cadence_rpm),
    )


def append(series: Series, t_ns: int, value: float) -> Series:
    """Keep one value; NaN, or one that is not newer than the last, is left out."""
    last_ns = series.readings[-1].t_ns if series.readings else None
    if math.isnan(value) or (last_ns is not None and t_ns <= last_ns):
        return series
    kept = tuple(r for r in series.readings if r.t_ns >= t_ns - KEPT_NS)
    readings = (*kept, Reading(t_ns, value, not is_fresh(series, t_ns)))
    return Series(readings, _silent_after_ns(readings, series.silent_after_ns))


def _silent_after_ns(readings: tuple[Reading, ...], before_ns: int) -> int:
    recent = readings[-LAST_INTERVALS - 1 :]
    intervals = [later.t_ns - one.t_ns for one, later in pairwise(recent)]
    if len(intervals) < FEWEST_INTERVALS:
        return before_ns
    return max(SILENT_AFTER_NS, SILENT_AFTER_INTERVALS * median_low(intervals))


def is_fresh(series: Series, now_ns: int) -> bool:
    """Tell whether the last reading is no older than may be; False before the first."""
    if not series.readings:
        return False
    return now_ns - series.readings[-1].t_ns <= series.silent_after_ns


def is_settled(series: Series, end_ns: int, now_ns: int) -> bool:
    """Tell whether a stroke that ended at end_ns can be judged now: nothing later changes it.

    Its reading has come, or is too late, or the quantity is silent since before its end.
    """
    if now_ns - end_ns >= LONGEST_WAIT_NS:
        return True
    if not series.readings:
        return False
    return series.readings[-1].t_ns >= end_ns or not is_fresh(series, now_ns)


def window_mean(series: Series, start_ns: int, end_ns: int, five_strokes_ns: int) -> float:
    """Return the mean over the window of the stroke from start_ns to end_ns, NaN = not known.

    The reading that ends with the stroke or after it is the newest used; none, or one later than a
    stroke waits, makes it unknown, and so does a silence with a part of the stroke in it.
    """
    values: list[float] = []
    begin_ns = end_ns - max(five_strokes_ns, WINDOW_NS)
    readings = series.readings
    newest = next((n for n, r in enumerate(readings) if r.t_ns >= end_ns), None)
    if newest is None or readings[newest].t_ns > end_ns + LONGEST_WAIT_NS:
        return math.nan
    for reading in reversed(readings[: newest + 1]):
        if reading.t_ns <= begin_ns:
            break
        if reading.anew and reading.t_ns > start_ns:
            return math.nan
        values.append(reading.value)
        if reading.anew:
            break
    return fmean(values)
