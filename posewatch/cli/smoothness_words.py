"""What a trial's smoothness came to, in plain sentences with the names of the definitions."""

from __future__ import annotations

from collections.abc import Iterable

from posewatch.core.outputs import Figure, Measure, SmoothnessFlag, SmoothnessMean
from posewatch.core.smoothness import DEFINITIONS, HIDES_ONE_LEG
from posewatch.core.steadiness import LIMIT_PCT
from posewatch.store.rows import Event


def smoothness_lines(events: Iterable[Event]) -> list[str]:
    """Return the sentences; none where no torque was told and nothing was flagged."""
    events = tuple(events)
    means = [event for event in events if isinstance(event, SmoothnessMean)]
    flags = [event for event in events if isinstance(event, SmoothnessFlag)]
    lines = [_mean_line(figure, means) for figure in Figure]
    if means:
        legs = "of one leg" if all(mean.per_leg for mean in means) else HIDES_ONE_LEG
        lines.append(f"these two as the {DEFINITIONS}, defines them; {legs}")
    lines += [_flag_line(measure, flags) for measure in Measure]
    return [line for line in lines if line]


def _mean_line(figure: Figure, means: list[SmoothnessMean]) -> str:
    of_it = [mean for mean in means if mean.figure is figure]
    n_turns = sum(mean.n_turns for mean in of_it)
    if not n_turns:
        return ""
    pct = sum(mean.n_turns * mean.mean_pct for mean in of_it) / n_turns
    return f"{figure}: {pct:.1f} %, mean of {n_turns} revolutions in position"


def _flag_line(measure: Measure, flags: list[SmoothnessFlag]) -> str:
    of_it = [flag.cv_pct for flag in flags if flag.measure is measure]
    if not of_it:
        return ""
    times = "once" if len(of_it) == 1 else f"{len(of_it)} times"
    return (
        f"flagged as unsteady: the {measure} varied by up to {max(of_it):.1f} % over 30 s "
        f"(coefficient of variation, limit {LIMIT_PCT:g} %), {times}; strokes count all the same"
    )
