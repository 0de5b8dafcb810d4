"""Even riding over half a minute, where no torque tells more: how cadence and power vary.

The coefficient of variation (CV = 100 x SD / mean) of the strokes' periods, as the camera sees
them, and of the power, in means over three seconds each so that what varies within a stroke does
not count. Too much of it flags the trial; strokes are judged and counted all the same.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from statistics import fmean, stdev

from posewatch.core.outputs import Measure, SmoothnessFlag
from posewatch.core.records import NS_PER_S, Effort

SPAN_NS = 30 * NS_PER_S
BLOCK_NS = 3 * NS_PER_S
N_BLOCKS = SPAN_NS // BLOCK_NS
#: Readings are kept this much longer than strokes, which are judged up to two seconds late.
LATE_NS = 3 * NS_PER_S
#: Within-trial CV that comparisons allow: 2 to 3 % is a judgement from published test-retest CVs of
#: 0.9 to 2 % at constant power.
LIMIT_PCT = 3.0


@dataclass(frozen=True, slots=True)
class SteadinessState:
    """Strokes of the ride without a break, and the power since, oldest first.

    strokes: (start, end). powers: (time, W). flagged: when each measure was flagged last.
    """

    strokes: tuple[tuple[int, int], ...] = ()
    powers: tuple[tuple[int, float], ...] = ()
    flagged: tuple[tuple[Measure, int], ...] = ()


def take_effort(state: SteadinessState, reading: Effort) -> SteadinessState:
    """Take in one sensor reading; one without a power is left out."""
    if math.isnan(reading.power_w):
        return state
    oldest_ns = reading.t_ns - SPAN_NS - LATE_NS
    kept = (pair for pair in state.powers if pair[0] > oldest_ns)
    return replace(state, powers=(*kept, (reading.t_ns, reading.power_w)))


def take_stroke(
    state: SteadinessState, start_ns: int, end_ns: int
) -> tuple[SteadinessState, tuple[SmoothnessFlag, ...]]:
    """Take in a stroke that the camera saw throughout; return what is too unsteady.

    A stroke that does not follow on the last begins anew: what lies before a break is another ride.
    A measure is flagged at most once in half a minute, so that no two flags tell of one moment.
    """
    strokes = state.strokes if state.strokes and state.strokes[-1][1] == start_ns else ()
    kept = (one for one in strokes if one[1] > end_ns - SPAN_NS)
    state = replace(state, strokes=(*kept, (start_ns, end_ns)))
    flagged = dict(state.flagged)
    flags = []
    for measure, cv in _variations(state).items():
        is_due = end_ns - flagged.get(measure, end_ns - SPAN_NS) >= SPAN_NS
        if cv > LIMIT_PCT and is_due:
            flagged[measure] = end_ns
            flags.append(SmoothnessFlag(end_ns, measure, cv))
    return replace(state, flagged=tuple(flagged.items())), tuple(flags)


def cv_pct(values: Sequence[float]) -> float:
    """Return 100 x SD (of a sample) / mean; NaN for fewer than two values or a mean not above 0."""
    if len(values) < 2 or (mean := fmean(values)) <= 0.0:
        return math.nan
    return 100.0 * stdev(values, mean) / mean


def _variations(state: SteadinessState) -> dict[Measure, float]:
    """Return each measure's CV over the half minute to the last stroke's end, NaN = not known."""
    end_ns = state.strokes[-1][1]
    begin_ns = end_ns - SPAN_NS
    if state.strokes[0][0] > begin_ns:
        return {}
    blocks: list[list[float]] = [[] for _ in range(N_BLOCKS)]
    for t_ns, power_w in state.powers:
        if begin_ns < t_ns <= end_ns:
            blocks[(end_ns - t_ns) // BLOCK_NS].append(power_w)
    powers = [fmean(block) for block in blocks] if all(blocks) else []
    periods = [float(later - start) for start, later in state.strokes]
    return {Measure.STROKE_PERIOD: cv_pct(periods), Measure.POWER: cv_pct(powers)}
