"""Power and cadence windows, silences, and when a stroke's effort has arrived."""

from __future__ import annotations

import math
from collections.abc import Iterable

import pytest

from posewatch.core import effort
from posewatch.core.effort import EffortState, Series
from posewatch.core.records import Channel, Effort
from posewatch.core.timebase import to_ns
from posewatch.core.watch_plan import WatchPlan

NAN = math.nan


def readings(rows: Iterable[tuple[float, float]]) -> Series:
    """Return the power after readings of (s, W)."""
    state = EffortState()
    for t_s, power_w in rows:
        state = effort.add(state, Effort(to_ns(t_s), power_w, 90.0))
    return state.power


def mean_w(series: Series, end_s: float, five_strokes_s: float, start_s: float = -1.0) -> float:
    """Return the power of a stroke that ends at end_s, and took 0.6 s unless said otherwise."""
    start_s = end_s - 0.6 if start_s < 0.0 else start_s
    return effort.window_mean(series, to_ns(start_s), to_ns(end_s), to_ns(five_strokes_s))


EVERY_SECOND = [(t, 100.0 + 10.0 * t) for t in range(1, 11)]


def test_the_window_is_three_seconds_where_five_strokes_take_less() -> None:
    # Ends 8.0 s, begins 5.0 s: readings at 6, 7, 8 (each stands for the second up to it).
    assert mean_w(readings(EVERY_SECOND), 8.0, 2.5) == pytest.approx(170.0)


def test_the_window_is_five_strokes_where_they_take_longer() -> None:
    # Ends 8.0 s, begins 4.0 s.
    assert mean_w(readings(EVERY_SECOND), 8.0, 4.0) == pytest.approx(165.0)


def test_the_reading_after_the_end_stands_for_the_time_up_to_it() -> None:
    # Ends 7.4 s: the reading at 8 covers 7 to 8; that at 9 came too late to matter.
    assert mean_w(readings(EVERY_SECOND), 7.4, 2.0) == pytest.approx(165.0)


def test_without_a_reading_at_or_after_the_end_there_is_no_value() -> None:
    assert math.isnan(mean_w(readings([(1, 200.0), (2, 200.0)]), 2.5, 2.0))
    assert math.isnan(mean_w(Series(), 2.5, 2.0))


def test_a_reading_that_gives_no_power_is_none_of_power() -> None:
    state = readings([(1, 200.0), (1.5, NAN), (2, 220.0)])
    assert mean_w(state, 2.0, 2.0, start_s=1.4) == pytest.approx(210.0)
    # It neither makes a stroke's power arrive nor ends a silence of it.
    only_cadence = readings([(8.0, 200.0), (9.0, 200.0), (10.0, NAN)])
    assert not effort.is_settled(only_cadence, to_ns(9.5), to_ns(10.1))
    assert math.isnan(mean_w(only_cadence, 9.5, 3.0))
    assert readings([(1, NAN), (2, NAN)]) == Series()


def test_each_quantity_has_readings_of_its_own() -> None:
    state = EffortState()
    for k in range(1, 41):
        one = (k / 4, 200.0, NAN) if k % 4 else (k / 4, NAN, 90.0)
        state = effort.add(state, Effort(to_ns(one[0]), one[1], one[2]))
    assert {r.value for r in state.of(Channel.POWER).readings} == {200.0}
    assert [r.t_ns for r in state.of(Channel.CADENCE).readings] == [to_ns(k) for k in range(1, 11)]
    assert state.power.silent_after_ns == to_ns(1.5)
    assert state.cadence.silent_after_ns == to_ns(3.0)


def test_a_stroke_can_be_judged_once_its_effort_is_there_or_after_two_seconds() -> None:
    state = readings([(t, 200.0) for t in (7.9, 8.9, 9.9)])
    end_ns = to_ns(10.0)
    assert not effort.is_settled(state, end_ns, to_ns(10.0))
    assert not effort.is_settled(state, end_ns, to_ns(11.4))
    assert effort.is_settled(readings([(10.0, 200.0)]), end_ns, to_ns(10.0))
    assert not effort.is_settled(Series(), end_ns, to_ns(11.99))
    assert effort.is_settled(Series(), end_ns, to_ns(12.0))


def test_a_reading_later_than_two_seconds_is_not_used() -> None:
    # Whether something else happened to come in meanwhile must not decide. The sensor says
    # something every 2.5 s, so that it is not silent.
    before = [(t, 200.0) for t in (1.5, 4.0, 6.5, 9.0)]
    assert math.isnan(mean_w(readings([*before, (12.5, 200.0)]), 10.0, 3.0))
    assert mean_w(readings([*before, (11.9, 220.0)]), 10.0, 3.0) == pytest.approx(210.0)


def test_readings_that_are_not_newer_are_left_out() -> None:
    state = readings([(1, 200.0), (2, 210.0), (2, 999.0), (1.5, 999.0), (3, 220.0)])
    assert [r.value for r in state.readings] == [200.0, 210.0, 220.0]


def test_memory_is_bounded_and_holds_the_longest_window() -> None:
    state = readings((t / 4, 200.0) for t in range(1, 2000))
    held_s = (state.readings[-1].t_ns - state.readings[0].t_ns) / 1e9
    assert 5 * 1.5 + 2.0 < held_s <= 20.0


# --- silence -------------------------------------------------------------------------------------


def every(interval_s: float, n: int, start_s: float = 0.0) -> list[tuple[float, float]]:
    return [(start_s + k * interval_s, 200.0) for k in range(n)]


@pytest.mark.parametrize(
    ("interval_s", "silent_after_s"),
    [(0.125, 1.5), (0.25, 1.5), (0.5, 1.5), (1.0, 3.0), (2.0, 6.0)],
)
def test_silent_after_three_usual_intervals_and_at_least_one_and_a_half_seconds(
    interval_s: float, silent_after_s: float
) -> None:
    state = readings(every(interval_s, 20, start_s=1.0))
    last_ns = state.readings[-1].t_ns
    assert effort.is_fresh(state, last_ns + to_ns(silent_after_s))
    assert not effort.is_fresh(state, last_ns + to_ns(silent_after_s) + 1)


def test_the_usual_interval_is_not_known_from_two_and_not_that_of_a_silence() -> None:
    assert readings(every(1.0, 3)).silent_after_ns == to_ns(1.5)
    assert readings(every(1.0, 4)).silent_after_ns == to_ns(3.0)
    stalled = [*every(1.0, 10), *every(1.0, 3, start_s=15.0)]
    assert readings(stalled).silent_after_ns == to_ns(3.0)
    # It outlasts a silence after which none of the old readings is kept.
    gone = [*every(1.0, 10), *every(1.0, 1, start_s=60.0)]
    assert readings(gone).silent_after_ns == to_ns(3.0)
    # A sensor that sends more seldom from now on is not silent for ever.
    assert readings([*every(0.25, 40), *every(2.0, 10, start_s=12.0)]).silent_after_ns == to_ns(6.0)


def test_a_stroke_with_a_part_of_it_in_a_silence_is_unknown() -> None:
    # Four a second to 5.0 s, then from 8.0 s on: nothing is known in between.
    state = readings([*every(0.25, 21), *every(0.25, 9, start_s=8.0)])

    def is_known(start_s: float, end_s: float) -> bool:
        return not math.isnan(mean_w(state, end_s, 3.0, start_s))

    assert is_known(4.4, 5.0)
    assert not is_known(4.4, 5.01)
    assert not is_known(6.0, 6.6)
    assert not is_known(7.4, 8.0)
    assert not is_known(7.99, 8.6)
    assert is_known(8.0, 8.6)
    assert not is_known(-0.5, 0.5)  # before the very first


def test_no_window_reaches_back_across_a_silence() -> None:
    high = [(8.0 + k / 4, 300.0) for k in range(9)]
    assert mean_w(readings([*every(0.25, 25), *high]), 8.6, 3.0) == pytest.approx(300.0)


def test_a_stroke_is_judged_as_soon_as_its_quantity_is_silent() -> None:
    state = readings(every(0.25, 21))
    # The last reading came at 5.0 s.
    assert not effort.is_settled(state, to_ns(6.0), to_ns(6.5))
    assert effort.is_settled(state, to_ns(6.0), to_ns(6.51))
    assert effort.is_settled(state, to_ns(5.0), to_ns(5.0))


@pytest.mark.parametrize(("power_w", "tol_w"), [(100.0, 10.0), (142.0, 10.0), (200.0, 14.0)])
def test_power_tolerance_is_the_larger_of_7_percent_and_10_w(power_w: float, tol_w: float) -> None:
    plan = WatchPlan(power_w=power_w, cadence_rpm=90.0)
    assert plan.effort_tolerance(Channel.POWER) == pytest.approx(tol_w)
    assert plan.effort_centre(Channel.POWER) == power_w


def test_cadence_tolerance_is_4_rpm_and_the_plan_has_its_defaults() -> None:
    plan = WatchPlan(cadence_rpm=85.0)
    assert plan.effort_tolerance(Channel.CADENCE) == 4.0
    assert plan.effort_centre(Channel.CADENCE) == 85.0
    assert plan.effort_centre(Channel.POWER) is None
    assert (plan.sit_in_s, plan.goal_strokes) == (30.0, 60)
