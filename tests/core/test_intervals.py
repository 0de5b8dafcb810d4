"""Valid intervals: runs, what is confirmed, and arithmetic on half-open spans."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from itertools import pairwise

import portion
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from posewatch.core.intervals import (
    MIN_RUN_STROKES,
    Span,
    Tally,
    add_stroke,
    at_least,
    end_run,
    intersection,
    merged,
    total,
    trimmed,
)
from posewatch.core.outputs import ValidInterval
from posewatch.core.timebase import to_ns

# Project arithmetic: two sets of half-open spans, s.
A = [(0, 10), (12, 20), (25, 40)]
B = [(3, 15), (18, 30)]
BOTH = [(3, 10), (12, 15), (18, 20), (25, 30)]


def test_intersection() -> None:
    assert intersection(A, B) == BOTH
    assert intersection(B, A) == BOTH
    assert total(BOTH) == 17


def test_50_hz_samples_inside_half_open_spans() -> None:
    # Project arithmetic: 850 samples; each end belongs to one span only.
    times = [Fraction(k, 50) for k in range(50 * 60)]
    assert sum(start <= t < end for t in times for start, end in BOTH) == 850


def test_trimming_half_a_second_at_either_end() -> None:
    # Project arithmetic: 13.0 s remain; a span of a second or less goes.
    spans = [(to_ns(s), to_ns(e)) for s, e in BOTH]
    assert total(trimmed(spans, to_ns(0.5))) == to_ns(13.0)
    assert trimmed([(0, 10), (20, 31)], 5) == [(25, 26)]


def test_keeping_only_spans_of_three_seconds() -> None:
    # Project arithmetic: 15 s.
    assert at_least(BOTH, 3) == [(3, 10), (12, 15), (25, 30)]
    assert total(at_least(BOTH, 3)) == 15


def test_adjacent_spans_are_not_counted_twice() -> None:
    # Project arithmetic: [0,5)[5,9) = 9 s.
    assert total([(0, 5), (5, 9)]) == 9
    assert merged([(5, 9), (0, 5)]) == [(0, 9)]


def test_nothing_meets_nothing() -> None:
    assert intersection([], A) == []
    assert intersection(A, [(10, 12), (20, 25)]) == []
    assert total([]) == 0


def test_overlaps_and_empty_spans_are_put_right() -> None:
    assert merged([(4, 8), (0, 5), (3, 3), (9, 8)]) == [(0, 8)]
    assert total([(0, 5), (3, 8), (3, 3)]) == 8


def test_touching_spans_are_one_when_trimmed_or_chosen_by_length() -> None:
    assert trimmed([(0, 5), (5, 9)], 1) == [(1, 8)]
    assert at_least([(0, 2), (2, 4), (6, 8)], 3) == [(0, 4)]


def as_portion(some: Iterable[Span]) -> portion.Interval:
    """Return half-open spans as the library portion (2.6) has them."""
    return portion.Interval(*(portion.closedopen(*one) for one in some))


def from_portion(some: portion.Interval) -> list[Span]:
    return [(one.lower, one.upper) for one in some if not one.empty]


@settings(max_examples=200, derandomize=True, deadline=None)
@given(
    st.lists(st.tuples(st.integers(0, 40), st.integers(0, 40)), max_size=8),
    st.lists(st.tuples(st.integers(0, 40), st.integers(0, 40)), max_size=8),
    st.integers(0, 6),
)
def test_an_independent_library_says_the_same(
    first: list[Span], second: list[Span], margin: int
) -> None:
    a, b = as_portion(first), as_portion(second)
    assert merged(first) == from_portion(a)
    assert intersection(first, second) == from_portion(a & b)
    # Trimmed: what stays is as far as the margin, or farther, from everything outside.
    outside = as_portion([(-9, 0), (41, 99)]) | (as_portion([(0, 41)]) - a)
    shadow = as_portion((one.lower - margin, one.upper + margin) for one in outside)
    assert trimmed(first, margin) == from_portion(as_portion([(0, 41)]) - shadow)
    assert total(first) == sum(end - start for start, end in from_portion(a))


span = st.tuples(st.integers(0, 40), st.integers(0, 40))
spans = st.lists(span, max_size=8)


def covered(some: list[Span]) -> set[int]:
    return {t for start, end in some for t in range(start, end)}


@settings(max_examples=100, derandomize=True, deadline=None)
@given(spans, spans)
def test_spans_behave_as_sets_of_moments(first: list[Span], second: list[Span]) -> None:
    both = intersection(first, second)
    assert covered(both) == covered(first) & covered(second)
    assert covered(merged(first)) == covered(first)
    assert total(first) == len(covered(first))
    for some in (both, merged(first)):
        assert all(start < end for start, end in some)
        assert all(a[1] < b[0] for a, b in pairwise(some))


def count(tally: Tally, n: int, start_ns: int, stroke_ns: int = 600) -> Tally:
    for index in range(n):
        begin = start_ns + index * stroke_ns
        tally, ended = add_stroke(tally, begin, begin + stroke_ns)
        assert ended is None
    return tally


def test_a_run_is_confirmed_with_its_eighth_stroke_all_at_once() -> None:
    assert MIN_RUN_STROKES == 8
    tally = count(Tally(), 7, 1000)
    assert (tally.n_strokes, tally.total_ns, tally.n_intervals) == (0, 0, 0)
    tally, _ = add_stroke(tally, 1000 + 7 * 600, 1000 + 8 * 600)
    assert (tally.n_strokes, tally.total_ns, tally.n_intervals) == (8, 8 * 600, 1)
    tally, _ = add_stroke(tally, 1000 + 8 * 600, 1000 + 9 * 600)
    assert (tally.n_strokes, tally.total_ns, tally.n_intervals) == (9, 9 * 600, 1)


def test_a_short_run_is_logged_and_not_counted() -> None:
    tally, run = end_run(count(Tally(), 7, 0))
    assert run == ValidInterval(0, 7 * 600, 7, confirmed=False)
    assert tally == Tally()


def test_a_confirmed_run_is_logged_and_stays_counted() -> None:
    tally, run = end_run(count(Tally(), 12, 0))
    assert run == ValidInterval(0, 12 * 600, 12, confirmed=True)
    assert (tally.n_strokes, tally.n_intervals, tally.run) == (12, 1, None)
    assert end_run(tally) == (tally, None)


@pytest.mark.parametrize("n_first", [3, 10])
def test_a_stroke_that_is_not_adjacent_begins_a_new_run(n_first: int) -> None:
    tally = count(Tally(), n_first, 0)
    end_ns = n_first * 600
    tally, ended = add_stroke(tally, end_ns + 1, end_ns + 601)
    assert ended == ValidInterval(0, end_ns, n_first, confirmed=n_first >= 8)
    assert tally.run == ValidInterval(end_ns + 1, end_ns + 601, 1, confirmed=False)
    assert tally.n_strokes == (n_first if n_first >= 8 else 0)


@settings(max_examples=100, derandomize=True, deadline=None)
@given(
    st.lists(st.tuples(st.sampled_from((0, 0, 0, 0, 0, 0, 70)), st.integers(1, 999)), max_size=60)
)
def test_counts_never_fall_and_are_the_sum_of_the_confirmed_runs(
    strokes: list[tuple[int, int]],
) -> None:
    tally, t_ns = Tally(), 0
    runs: list[ValidInterval] = []
    for gap_ns, stroke_ns in strokes:
        before = tally
        t_ns += gap_ns
        tally, ended = add_stroke(tally, t_ns, t_ns + stroke_ns)
        t_ns += stroke_ns
        runs += [] if ended is None else [ended]
        assert tally.n_strokes >= before.n_strokes
        assert tally.total_ns >= before.total_ns
        assert tally.n_intervals >= before.n_intervals
    tally, last = end_run(tally)
    runs += [] if last is None else [last]
    assert sum(r.n_strokes for r in runs) == len(strokes)
    confirmed = [r for r in runs if r.confirmed]
    assert all(r.confirmed == (r.n_strokes >= 8) for r in runs)
    assert tally.n_strokes == sum(r.n_strokes for r in confirmed)
    assert tally.total_ns == sum(r.end_ns - r.start_ns for r in confirmed)
    assert tally.n_intervals == len(confirmed)
    assert all(a.end_ns < b.start_ns for a, b in pairwise(runs))
