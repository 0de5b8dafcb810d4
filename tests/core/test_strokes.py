"""Means over whole revolutions: their value, their lag, and when there is none."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from posewatch.core import strokes
from posewatch.core.outputs import Reason
from posewatch.core.pedal_circle import TURN
from posewatch.core.records import FloatArray
from posewatch.core.strokes import Revolution, Sample, StrokeState
from posewatch.core.timebase import to_ns

RATE_HZ = 30.0
RPM = 90.0

Curve = Callable[[float], float]


def turning(
    seconds: float,
    curve: Curve = lambda turns: 0.0,
    rpm: float = RPM,
    rate_hz: float = RATE_HZ,
    start_turns: float = -0.3,
) -> Iterator[Sample]:
    """Turn the crank evenly; curve(turns) is the only column's deviation."""
    for index in range(round(seconds * rate_hz)):
        t_s = index / rate_hz
        turns = start_turns + rpm / 60.0 * t_s
        yield Sample(to_ns(t_s), TURN * turns, np.array([curve(turns)]))


def unbelieved_between(samples: Iterable[Sample], begin_s: float, end_s: float) -> Iterator[Sample]:
    for sample in samples:
        hidden = to_ns(begin_s) <= sample.t_ns < to_ns(end_s)
        nothing = np.full_like(sample.deviations, math.nan)
        yield Sample(sample.t_ns, sample.angle_rad, nothing if hidden else sample.deviations)


def run(samples: Iterable[Sample]) -> tuple[StrokeState, list[Revolution]]:
    state = StrokeState()
    ended: list[Revolution] = []
    for sample in samples:
        state, new = strokes.step(state, sample)
        ended += new
    return state, ended


def top_s(turn: int, start_turns: float = -0.3, rpm: float = RPM) -> float:
    """Return when the crank passed the top of a turn."""
    return (turn - start_turns) * 60.0 / rpm


def stroke_reasons(samples: Iterable[Sample]) -> list[Reason | None]:
    return [r.reasons[0] for r in run(samples)[1]]


def test_a_stroke_goes_from_top_to_top_with_interpolated_ends() -> None:
    _, ended = run(turning(4.0))
    assert len(ended) == 5
    for turn, revolution in enumerate(ended):
        assert revolution.start_ns == pytest.approx(to_ns(top_s(turn)), abs=2)
        assert revolution.end_ns == pytest.approx(to_ns(top_s(turn + 1)), abs=2)


def test_strokes_are_adjacent_to_the_nanosecond() -> None:
    _, ended = run(turning(6.0, rpm=97.3, rate_hz=29.97))
    assert len(ended) > 5
    assert all(a.end_ns == b.start_ns for a, b in pairwise(ended))


def test_the_part_before_the_first_top_is_no_stroke() -> None:
    _, ended = run(turning(1.1, start_turns=0.5))
    assert [r.start_ns for r in ended] == [pytest.approx(to_ns(1 / 3), abs=2)]


@pytest.mark.parametrize("rate_hz", [25.0, 30.0, 60.0])
@pytest.mark.parametrize("rpm", [60.0, 73.0, 90.0, 110.0])
def test_a_stroke_value_is_the_mean_over_the_angle_and_the_rms_about_it(
    rate_hz: float, rpm: float
) -> None:
    def curve(turns: float) -> float:
        return 1.5 + 2.0 * math.cos(TURN * turns) + 0.5 * math.sin(2 * TURN * turns)

    _, ended = run(turning(4.0, curve, rpm, rate_hz))
    for revolution in ended:
        assert revolution.means[0] == pytest.approx(1.5, abs=0.03)
        assert revolution.spreads[0] == pytest.approx(math.sqrt(2.0 + 0.125), abs=0.06)
        assert revolution.reasons == (None,)


def test_the_mean_does_not_count_the_end_point_twice() -> None:
    # Computed: the mean of 101 points 0 ... 360 of 71.25 + 37.5 cos is 71.621, the truth 71.25.
    samples = turning(3.0, lambda turns: 71.25 + 37.5 * math.cos(TURN * turns), 60.0, 100.0, -0.1)
    for revolution in run(samples)[1]:
        assert revolution.means[0] == pytest.approx(71.25, abs=1e-3)


def test_the_mean_is_over_the_angle_and_not_over_time() -> None:
    # The crank takes three times as long over the second half of the turn, where the value is 1.
    def angle_at(t_s: float) -> float:
        turn, rest = divmod(t_s / 0.8, 1.0)
        return TURN * (turn + (rest * 2.0 if rest < 0.25 else 0.5 + (rest - 0.25) / 1.5))

    times = np.arange(0.0, 4.0, 0.01)
    samples = (
        Sample(to_ns(t), a, np.array([1.0 if a % TURN >= math.pi else 0.0]))
        for t in times
        if (a := angle_at(float(t) + 0.4)) is not None
    )
    _, ended = run(samples)
    assert len(ended) == 4
    for revolution in ended:
        assert revolution.means[0] == pytest.approx(0.5, abs=0.02)


@settings(max_examples=30, derandomize=True, deadline=None)
@given(st.lists(st.floats(0.005, 0.06), min_size=120, max_size=120), st.floats(45.0, 120.0))
def test_a_constant_deviation_is_its_own_mean_however_uneven_the_pictures(
    steps_s: list[float], rpm: float
) -> None:
    times = np.cumsum(steps_s)
    samples = [Sample(to_ns(t), TURN * rpm / 60.0 * t, np.array([2.5])) for t in times]
    for revolution in run(samples)[1]:
        if revolution.reasons[0] is None:
            assert revolution.means[0] == pytest.approx(2.5, abs=1e-9)
            assert revolution.spreads[0] == pytest.approx(0.0, abs=1e-9)


def live_values(samples: Iterable[Sample]) -> list[tuple[float, float]]:
    """Return (turns, live value) after each sample that has one."""
    state = StrokeState()
    found = []
    for sample in samples:
        state, _ = strokes.step(state, sample)
        revolution = strokes.live(state)
        if revolution is not None:
            found.append((sample.angle_rad / TURN, float(revolution.means[0])))
    return found


def test_the_live_value_lags_a_slow_drift_by_half_a_revolution() -> None:
    values = live_values(turning(4.0, lambda turns: 3.0 * turns))
    assert len(values) > 80
    for turns, live in values:
        assert live == pytest.approx(3.0 * (turns - 0.5), abs=1e-6)


def test_the_live_value_takes_in_a_step_as_the_crank_goes_over_it() -> None:
    values = live_values(turning(4.0, lambda turns: 6.0 if turns >= 2.0 else 0.0, rate_hz=120.0))
    for turns, live in values:
        assert live == pytest.approx(6.0 * min(max(turns - 2.0, 0.0), 1.0), abs=0.07)


def test_the_live_value_at_a_top_is_the_stroke_value() -> None:
    random = np.random.default_rng(4)
    samples = turning(5.0, lambda turns: float(random.normal()), 60.0, 30.0, start_turns=-10 / 30)
    state = StrokeState()
    compared = 0
    for sample in samples:
        state, ended = strokes.step(state, sample)
        live = strokes.live(state)
        if ended and live is not None and live.end_ns == ended[-1].end_ns:
            assert live.means == pytest.approx(ended[-1].means)
            assert live.spreads == pytest.approx(ended[-1].spreads)
            compared += 1
    assert compared >= 2


def test_there_is_no_live_value_before_a_whole_turn() -> None:
    first_turns = min(turns for turns, _ in live_values(turning(2.0)))
    assert first_turns >= 0.7


def test_a_revolution_of_over_a_second_and_a_half_is_unknown() -> None:
    # 1.5 s a turn = 40 rpm.
    assert set(stroke_reasons(turning(6.0, rpm=41.0))) == {None}
    assert set(stroke_reasons(turning(6.0, rpm=39.0))) == {Reason.TOO_SLOW}


def test_a_slow_revolution_has_no_live_value_either() -> None:
    state, _ = run(turning(6.0, rpm=39.0))
    revolution = strokes.live(state)
    assert revolution is not None
    assert revolution.reasons == (Reason.TOO_SLOW,)
    assert np.isnan(revolution.means).all()


def test_under_80_percent_believed_is_unknown() -> None:
    def every(n: int, keep: int) -> Iterator[Sample]:
        for index, sample in enumerate(turning(4.0, rate_hz=60.0)):
            good = index % n < keep
            yield sample if good else Sample(sample.t_ns, sample.angle_rad, np.array([math.nan]))

    assert set(stroke_reasons(every(5, 4))) == {None}
    assert set(stroke_reasons(every(4, 3))) == {Reason.NOT_BELIEVED}


@pytest.mark.parametrize(
    ("missing", "reason"),
    # At 90 rpm and 60 pictures a second a picture is 9 degrees: five missing leave a hole of 54,
    # six one of 63 degrees.
    [(5, None), (6, Reason.HOLE)],
)
def test_a_hole_of_over_60_degrees_is_unknown(missing: int, reason: Reason | None) -> None:
    begin_s = top_s(2) + 0.2
    samples = unbelieved_between(
        turning(4.0, rate_hz=60.0), begin_s, begin_s + (missing - 0.01) / 60.0
    )
    assert stroke_reasons(samples) == [None, None, reason, None, None]


def test_a_hole_of_over_a_fifth_of_a_second_is_unknown_however_small_the_angle() -> None:
    # At 45 rpm 0.2 s are 54 degrees.
    def with_hole(hole_s: float) -> list[Reason | None]:
        begin_s = top_s(1, rpm=45.0) + 0.5
        samples = turning(5.0, rpm=45.0, rate_hz=60.0)
        return stroke_reasons(unbelieved_between(samples, begin_s, begin_s + hole_s))

    assert with_hole(0.17) == [None, None, None]
    assert with_hole(0.20) == [None, Reason.HOLE, None]


def test_pictures_that_never_came_are_a_hole_too() -> None:
    gap = (to_ns(top_s(2) + 0.2), to_ns(top_s(2) + 0.35))
    samples = (s for s in turning(4.0) if not gap[0] <= s.t_ns < gap[1])
    assert stroke_reasons(samples) == [None, None, Reason.HOLE, None, None]


@pytest.mark.parametrize("before_s", [0.05, 0.09, 0.14])
@pytest.mark.parametrize("gone", [True, False], ids=["no pictures", "not believed"])
def test_a_hole_across_a_top_is_measured_whole(before_s: float, gone: bool) -> None:
    # 0.19 s at 90 rpm, 102 degrees, of which each of the two strokes has only a part.
    begin_s, end_s = top_s(2) - before_s, top_s(2) - before_s + 0.19
    samples: Iterable[Sample] = list(turning(4.0, rate_hz=60.0))
    if gone:
        samples = [s for s in samples if not to_ns(begin_s) <= s.t_ns < to_ns(end_s)]
    else:
        samples = unbelieved_between(samples, begin_s, end_s)
    found = stroke_reasons(samples)
    assert len(found) == 5
    assert found[2] in (Reason.HOLE, Reason.NOT_BELIEVED)
    assert found[0] is None
    assert found[3:] == [None, None]


def test_a_crank_that_turns_back_within_the_stroke_makes_it_unknown() -> None:
    def back(turns: float) -> float:
        return turns if turns < 2.5 else turns - 0.1 if turns < 2.55 else turns

    samples = (
        Sample(s.t_ns, TURN * back(s.angle_rad / TURN), s.deviations)
        for s in turning(4.0, rate_hz=60.0)
    )
    assert stroke_reasons(samples) == [None, None, Reason.NOT_TURNING, None, None]


def test_a_crank_that_stands_still_for_a_moment_makes_the_stroke_unknown() -> None:
    samples = list(turning(4.0))
    held = next(i for i, s in enumerate(samples) if s.angle_rad > 2.5 * TURN)
    frozen = Sample(samples[held + 1].t_ns, samples[held].angle_rad, samples[held].deviations)
    samples[held + 1] = frozen
    assert stroke_reasons(samples) == [None, None, Reason.NOT_TURNING, None, None]


def test_columns_are_known_or_unknown_each_for_itself() -> None:
    def two(sample: Sample) -> Sample:
        turns = sample.angle_rad / TURN
        hidden = 1.2 < turns < 1.6
        both: FloatArray = np.array([1.0, math.nan if hidden else 2.0])
        return Sample(sample.t_ns, sample.angle_rad, both)

    _, ended = run(map(two, turning(3.0)))
    assert [r.reasons for r in ended[:3]] == [
        (None, None),
        (None, Reason.NOT_BELIEVED),
        (None, None),
    ]
    assert ended[1].means[0] == pytest.approx(1.0)
    assert np.isnan(ended[1].means[1])


def test_memory_stays_bounded_while_the_crank_stands() -> None:
    state = StrokeState()
    for index in range(900):
        state, _ = strokes.step(state, Sample(to_ns(index / 30.0), 0.4, np.zeros(1)))
    assert len(state.samples) < 120
