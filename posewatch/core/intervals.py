"""Valid intervals: half-open spans of adjacent counted strokes, and arithmetic on them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from posewatch.core.outputs import ValidInterval

#: A run shorter than this is logged and not counted.
MIN_RUN_STROKES = 8

Span = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Tally:
    """The run under way and what is confirmed so far; neither count ever falls.

    run: the valid interval under way, None between runs. n_strokes, total_ns, n_intervals:
    confirmed only, the run under way included once it is long enough.
    """

    run: ValidInterval | None = None
    n_strokes: int = 0
    total_ns: int = 0
    n_intervals: int = 0


def add_stroke(tally: Tally, start_ns: int, end_ns: int) -> tuple[Tally, ValidInterval | None]:
    """Count one stroke; return the run that it did not continue, if there was one."""
    run = tally.run
    if run is None or run.end_ns != start_ns:
        ended, tally = run, replace(tally, run=ValidInterval(start_ns, end_ns, 1, False))
        return tally, ended
    n_strokes = run.n_strokes + 1
    grown = ValidInterval(run.start_ns, end_ns, n_strokes, n_strokes >= MIN_RUN_STROKES)
    tally = replace(tally, run=grown)
    if not grown.confirmed:
        return tally, None
    if run.confirmed:
        return replace(
            tally,
            n_strokes=tally.n_strokes + 1,
            total_ns=tally.total_ns + end_ns - start_ns,
        ), None
    return replace(
        tally,
        n_strokes=tally.n_strokes + n_strokes,
        total_ns=tally.total_ns + end_ns - run.start_ns,
        n_intervals=tally.n_intervals + 1,
    ), None


def end_run(tally: Tally) -> tuple[Tally, ValidInterval | None]:
    """End the run under way, if there is one."""
    return replace(tally, run=None), tally.run


def merged(spans: Iterable[Span]) -> list[Span]:
    """Return the spans in order, touching or overlapping ones joined, empty ones left out."""
    result: list[Span] = []
    for start, end in sorted(span for span in spans if span[0] < span[1]):
        if result and start <= result[-1][1]:
            result[-1] = (result[-1][0], max(result[-1][1], end))
        else:
            result.append((start, end))
    return result


def intersection(first: Iterable[Span], second: Iterable[Span]) -> list[Span]:
    """Return where both hold."""
    a, b = merged(first), merged(second)
    result: list[Span] = []
    i = j = 0
    while i < len(a) and j < len(b):
        start, end = max(a[i][0], b[j][0]), min(a[i][1], b[j][1])
        if start < end:
            result.append((start, end))
        if a[i][1] < b[j][1]:
            i += 1
        else:
            j += 1
    return result


def trimmed(spans: Iterable[Span], margin: int) -> list[Span]:
    """Return the spans shortened by margin at either end; what is not longer goes.

    Touching spans are one: nothing is cut out where they meet.
    """
    return [(s + margin, e - margin) for s, e in merged(spans) if e - s > 2 * margin]


def at_least(spans: Iterable[Span], length: int) -> list[Span]:
    """Return the spans that are at least so long; touching ones are one."""
    return [(s, e) for s, e in merged(spans) if e - s >= length]


def total(spans: Iterable[Span]) -> int:
    """Return the length covered, overlaps counted once."""
    return sum(e - s for s, e in merged(spans))
