"""Power and cadence windows, and when a stroke's effort has arrived."""

from __future__ import annotations

import math
from collections.abc import Iterable

import pytest

from posewatch.core import effort
from posewatch.core.effort import EffortState
from posewatch.core.records import Channel, Effort
from posewatch.core.timebase import to_ns
from posewatch.core.watch_plan import WatchPlan

NAN = math.nan


def readings(rows: Iterable[tuple[float, float]]) -> EffortState:
    """Return the state after readings of (s, W), cadence 90."""
    state = EffortState()
    for t_s, power_w in rows:
        state = effort.add(state, Effort(to_ns(t_s), power_w, 90.0))
    return state


def mean_w(state: EffortState, end_s: float, five_strokes_s: float) -> float:
    return effort.window_mean(state, "power_w", to_ns(end_s), to_ns(five_strokes_s))


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
    assert math.isnan(mean_w(EffortState(), 2.5, 2.0))


def test_a_reading_that_gives_no_power_is_left_out() -> None:
    state = readings([(1, 200.0), (2, NAN), (3, 220.0)])
    assert mean_w(state, 3.0, 3.0) == pytest.approx(210.0)
    assert math.isnan(mean_w(readings([(1, NAN), (2, NAN), (3, NAN)]), 3.0, 3.0))


def test_a_stroke_can_be_judged_once_its_effort_is_there_or_after_two_seconds() -> None:
    state = readings([(9.9, 200.0)])
    end_ns = to_ns(10.0)
    assert not effort.has_arrived(state, end_ns, to_ns(10.0))
    assert not effort.has_arrived(state, end_ns, to_ns(11.99))
    assert effort.has_arrived(state, end_ns, to_ns(12.0))
    assert effort.has_arrived(readings([(10.0, 200.0)]), end_ns, to_ns(10.0))


def test_a_reading_later_than_two_seconds_is_not_used() -> None:
    # Whether something else happened to come in meanwhile must not decide.
    state = readings([(9.0, 200.0), (12.5, 200.0)])
    assert math.isnan(mean_w(state, 10.0, 3.0))
    assert mean_w(readings([(9.0, 200.0), (11.9, 220.0)]), 10.0, 3.0) == pytest.approx(210.0)


def test_readings_that_are_not_newer_are_left_out() -> None:
    state = readings([(1, 200.0), (2, 210.0), (2, 999.0), (1.5, 999.0), (3, 220.0)])
    assert [r.power_w for r in state.readings] == [200.0, 210.0, 220.0]


def test_memory_is_bounded_and_holds_the_longest_window() -> None:
    state = readings((t / 4, 200.0) for t in range(1, 2000))
    held_s = (state.readings[-1].t_ns - state.readings[0].t_ns) / 1e9
    assert 5 * 1.5 + 2.0 < held_s <= 20.0


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
