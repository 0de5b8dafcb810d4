"""What must hold for any ride at all, on rides drawn at random."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from exact_rider import (
    CHAIN_HIP,
    CHAIN_KNEE,
    HAND_UP,
    HEIGHT,
    HIP,
    KNEE,
    SITTING,
    TORSO,
    JudgeInput,
    off,
    take,
    target,
    task,
    watch,
)
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from posewatch.core import judge
from posewatch.core.channels import COLUMNS, N_COLUMNS
from posewatch.core.judge import JudgeState, Observation
from posewatch.core.outputs import HoldLost, Output, StrokeJudged, ValidInterval
from posewatch.core.records import FloatArray, Tick
from posewatch.core.timebase import to_ns
from posewatch.core.watch_plan import WatchPlan

#: Rides cost time, and a ride that fails is short enough to be read as it is: no shrinking.
SOME = settings(
    max_examples=8, derandomize=True, deadline=None, phases=(Phase.explicit, Phase.generate)
)
FEW = settings(SOME, max_examples=4)
RATE_HZ = 20.0
HELD = task(WatchPlan(sit_in_s=2.0))
LIMITS = {e.channel: (e.tol, e.required) for e in target().envelopes}


@dataclass(frozen=True)
class Span:
    """Some strokes of one kind: a deviation (None = not believed), a bob of the torso, a pace.

    check_deg: by how much the leg's chain says otherwise of knee and hip; NaN = it says nothing.
    """

    n_strokes: int
    column: int | None
    share: float
    bob_deg: float
    rpm: float
    check_deg: float = 0.0


TOLERANCE = {TORSO: 3.0, KNEE: 4.0, HIP: 5.0, SITTING: 8 / 430, HEIGHT: 8 / 430, HAND_UP: 20 / 430}
fitted = st.builds(
    Span, st.integers(1, 9), st.just(TORSO), st.just(0.0), st.just(0.0), st.just(90.0)
)
disturbed = st.builds(
    Span,
    st.integers(1, 4),
    st.sampled_from((*TOLERANCE, None)),
    st.sampled_from((-1.3, -0.9, 0.5, 0.95, 1.05, 1.6, 20.0)),
    st.sampled_from((0.0, 0.0, 2.0)),
    st.sampled_from((0.0, 35.0, 60.0, 90.0, 90.0, 110.0)),
    st.sampled_from((0.0, 0.0, 0.9, 1.4, -6.0, math.nan)),
)
rides = st.lists(st.one_of(fitted, disturbed), min_size=2, max_size=5).map(
    lambda spans: [Span(13, TORSO, 0.0, 0.0, 90.0), *spans, Span(6, TORSO, 0.0, 0.0, 90.0)]
)


def moments(spans: Sequence[Span]) -> Iterator[Observation]:
    """Ride the spans one after another; a pace of 0 is a rest of as long as at 90 rpm."""
    turns, index = 0.01, 0
    for span in spans:
        for _ in range(round(span.n_strokes * 60.0 / (span.rpm or 90.0) * RATE_HZ)):
            deviations: FloatArray = np.full(N_COLUMNS, math.nan)
            if span.column is not None:
                deviations = off(span.column, span.share * TOLERANCE[span.column])
                deviations[TORSO] += span.bob_deg * math.cos(4 * math.pi * turns)
                deviations[[CHAIN_KNEE, CHAIN_HIP]] += span.check_deg
            seen = span.column is not None
            angle, speed = 2 * math.pi * turns, 2 * math.pi * span.rpm / 60.0
            yield Observation(to_ns(index / RATE_HZ), seen, angle, speed, deviations)
            index += 1
            turns += span.rpm / 60.0 / RATE_HZ


def counted(outputs: Iterable[Output]) -> list[StrokeJudged]:
    return [o for o in outputs if isinstance(o, StrokeJudged) and o.counted]


def intervals(outputs: Iterable[Output]) -> list[ValidInterval]:
    return [o for o in outputs if isinstance(o, ValidInterval)]


def first_loss_ns(outputs: Iterable[Output]) -> float:
    return min((o.t_ns for o in outputs if isinstance(o, HoldLost)), default=math.inf)


@SOME
@given(rides)
def test_what_counts_is_in_band_and_confirmed_counts_are_the_intervals_logged(
    spans: list[Span],
) -> None:
    state, outputs = JudgeState(), list[Output]()
    for new in moments(spans):
        before = state.tally
        state, found = take(HELD, state, new)
        outputs += found
        assert state.tally.n_strokes >= before.n_strokes
        assert state.tally.total_ns >= before.total_ns
        assert state.tally.n_intervals >= before.n_intervals
    state, found = judge.finish(state)
    runs = intervals([*outputs, *found])
    for value in (v for stroke in counted(outputs) for v in stroke.channels):
        tol, required = LIMITS[value.channel]
        assert abs(value.deviation) <= tol or not required
    assert all(run.start_ns < run.end_ns for run in runs)
    assert all(a.end_ns <= b.start_ns for a, b in pairwise(runs))
    assert all(run.confirmed == (run.n_strokes >= 8) for run in runs)
    confirmed = [run for run in runs if run.confirmed]
    assert state.tally.n_strokes == sum(run.n_strokes for run in confirmed)
    assert state.tally.total_ns == sum(run.end_ns - run.start_ns for run in confirmed)
    # Every counted stroke lies in one run, and the runs hold nothing else.
    strokes = counted(outputs)
    assert sum(run.n_strokes for run in runs) == len(strokes)
    for run in runs:
        inside = [s for s in strokes if run.start_ns <= s.start_ns and s.end_ns <= run.end_ns]
        assert len(inside) == run.n_strokes
        assert (inside[0].start_ns, inside[-1].end_ns) == (run.start_ns, run.end_ns)
        assert all(a.end_ns == b.start_ns for a, b in pairwise(inside))


@FEW
@given(rides)
def test_the_same_ride_gives_the_same_outputs_to_the_bit(spans: list[Span]) -> None:
    # Compared as text, since an unknown value is NaN and NaN differs from itself.
    first, second = (watch(HELD, moments(spans))[1] for _ in range(2))
    assert repr(first) == repr(second)


@FEW
@given(rides, st.sampled_from((7.0, 33.0)), st.integers(0, 9))
def test_how_often_the_clock_ticks_changes_nothing(
    spans: list[Span], tick_hz: float, drop: int
) -> None:
    # Some of the pictures never come (a tenth of a second in each second, and two whole seconds).
    pictures = [
        m
        for index, m in enumerate(moments(spans))
        if index % 20 not in (drop, drop + 1) and not 200 <= index < 200 + 4 * drop
    ]
    end_ns = pictures[-1].t_ns
    ticks = [Tick(to_ns(k / tick_hz)) for k in range(int(end_ns / 1e9 * tick_hz))]
    both: list[JudgeInput] = [*pictures, *ticks]
    both.sort(key=lambda new: new.t_ns)
    assert repr(watch(HELD, both)[1]) == repr(watch(HELD, pictures)[1])


@SOME
@given(rides)
def test_a_chain_that_contradicts_never_makes_a_stroke_count(spans: list[Span]) -> None:
    """Against the same ride in which the chain says what the plain angles say."""
    agreeing = [replace(span, check_deg=0.0) for span in spans]
    clean = {s.start_ns for s in counted(watch(HELD, moments(agreeing))[1])}
    checked = watch(HELD, moments(spans))[1]
    loss_ns = first_loss_ns(watch(HELD, moments(agreeing))[1])
    assert len(counted(checked)) <= len(clean)
    assert {s.start_ns for s in counted(checked) if s.end_ns <= loss_ns} <= clean
    for stroke in counted(checked):
        assert all(v.reason is None for v in stroke.channels if v.required)


def not_seen(t_ns: int, angle_rad: float | None, speed: float) -> Observation:
    return Observation(t_ns, False, angle_rad, speed, np.full(N_COLUMNS, math.nan))


def spoiled(spans: Sequence[Span], at: Sequence[int], instead: bool) -> Iterator[Observation]:
    """Put unbelieved pictures instead of, or between, some of the ride's own."""
    ride = list(moments(spans))
    places = {place % len(ride) for place in at}
    for index, moment in enumerate(ride):
        assert moment.angle_rad is not None
        if index in places and instead:
            yield not_seen(moment.t_ns, moment.angle_rad, moment.speed_rad_s)
            continue
        yield moment
        if index in places and index + 1 < len(ride):
            between_ns = moment.t_ns + to_ns(0.4 / RATE_HZ)
            angle = moment.angle_rad + 0.4 * moment.speed_rad_s / RATE_HZ
            yield not_seen(between_ns, angle, moment.speed_rad_s)


places = st.lists(st.integers(0, 5000), min_size=1, max_size=12).flatmap(
    lambda some: st.just([place + k for place in some for k in range(1 + place % 5)])
)


@SOME
@given(rides, places, st.booleans())
def test_bad_pictures_never_make_a_stroke_count(
    spans: list[Span], at: list[int], instead: bool
) -> None:
    clean, bad = watch(HELD, moments(spans))[1], watch(HELD, spoiled(spans, at, instead))[1]
    assert len(counted(bad)) <= len(counted(clean))
    # Stroke by stroke up to the first loss of the untouched ride; after it the two steady anew at
    # different times.
    loss_ns = first_loss_ns(clean)
    starts = {s.start_ns // 1000 for s in counted(clean)}
    for stroke in counted(bad):
        if stroke.end_ns <= loss_ns:
            assert stroke.start_ns // 1000 in starts


def test_every_channel_of_a_target_has_its_columns_here() -> None:
    assert set(COLUMNS) == set(LIMITS)
