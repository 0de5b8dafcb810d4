"""Why a stroke does not count, and why a trial is left out of a comparison; in words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping

from posewatch.core.intervals import MIN_RUN_STROKES
from posewatch.core.outputs import Phase, StrokeJudged, ValidInterval
from posewatch.core.records import Verdict
from posewatch.export.recorded import RiddenTrial, Watched

RUN_TOO_SHORT = f"run of under {MIN_RUN_STROKES} strokes"


def placed_strokes(
    watched: Watched,
) -> Iterator[tuple[int, StrokeJudged, int | None, str]]:
    """Give each stroke's number from 1, the stroke, its interval's number, why it does not count.

    An interval's number counts from 1 through all runs, those too short included; None = the stroke
    is in none. The last is empty where the stroke counts.
    """
    intervals = watched.intervals
    at = 0
    for number, stroke in enumerate(watched.strokes, 1):
        while at < len(intervals) and intervals[at].end_ns <= stroke.start_ns:
            at += 1
        inside = at < len(intervals) and intervals[at].start_ns <= stroke.start_ns
        interval = intervals[at] if inside and stroke.counted else None
        yield (
            number,
            stroke,
            None if interval is None else at + 1,
            why_not_counted(stroke, interval),
        )


def why_not_counted(stroke: StrokeJudged, interval: ValidInterval | None) -> str:
    """Return why a stroke does not count, empty = it does. interval: that it lies in."""
    if interval is not None:
        return "" if interval.confirmed else RUN_TOO_SHORT
    if stroke.verdict is Verdict.UNKNOWN:
        return f"unknown: {stroke.reason}"
    if stroke.verdict is Verdict.OUT:
        out = [v.channel for v in stroke.channels if v.required and v.verdict is Verdict.OUT]
        return f"out of band: {' and '.join(out)}"
    # In band all the same: the body settles, or the strokes that make the hold.
    return Phase.SIT_IN if stroke.phase is Phase.SIT_IN else Phase.STEADYING


def excluded(watched: Watched) -> Mapping[str, int]:
    """Return how many strokes do not count, by why."""
    found = Counter(why for _, _, _, why in placed_strokes(watched) if why)
    return dict(found.most_common())


def why_discarded(trial: RiddenTrial, rehearsal: bool) -> str:
    """Return why a trial has no part in a comparison, empty = it has."""
    if rehearsal:
        return "rehearsal"
    if trial.planned is not None and trial.planned.familiarisation:
        return "familiarisation mounting"
    if trial.run is not None and trial.run.repeated:
        return f"ridden again: {trial.run.repeated}"
    return ""
