"""Sensor and camera cadence held together. Limit: 3 rpm (project's own rule)."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from posewatch.core import cadence_check
from posewatch.core.cadence_check import CadenceCheckState, CadenceDiffers
from posewatch.core.records import Effort
from posewatch.core.timebase import to_ns

Pace = Callable[[float], float]


def ride(
    seconds: float, camera: Pace, sensor: Pace, every_s: float = 1.0, late_s: float = 1.0
) -> list[CadenceDiffers]:
    """Ride at the camera's pace; strokes are judged late_s after their end."""
    events: list[tuple[float, tuple[float, float] | float]] = []
    start_s = 0.0
    while start_s < seconds:
        end_s = start_s + 60.0 / camera(start_s)
        events.append((end_s + late_s, (start_s, end_s)))
        start_s = end_s
    events += [(k * every_s, sensor(k * every_s)) for k in range(round(seconds / every_s))]
    state, found = CadenceCheckState(), list[CadenceDiffers]()
    for t_s, event in sorted(events, key=lambda pair: pair[0]):
        if isinstance(event, tuple):
            state, told = cadence_check.take_stroke(state, to_ns(event[0]), to_ns(event[1]))
            found += told
        else:
            state = cadence_check.take_effort(state, Effort(to_ns(t_s), 200.0, event))
    return found


@pytest.mark.parametrize("rpm", [45.0, 90.0, 115.0])
@pytest.mark.parametrize("off_rpm", [2.8, -2.8, 0.0])
def test_a_small_difference_is_not_told(rpm: float, off_rpm: float) -> None:
    assert ride(60.0, lambda _: rpm, lambda _: rpm + off_rpm) == []


@pytest.mark.parametrize("rpm", [45.0, 90.0, 115.0])
@pytest.mark.parametrize("off_rpm", [3.2, -3.2, -45.0])
def test_a_lasting_difference_is_told_once_within_sixteen_seconds(
    rpm: float, off_rpm: float
) -> None:
    (told,) = ride(60.0, lambda _: rpm, lambda _: rpm + off_rpm)
    assert told.difference_rpm == pytest.approx(off_rpm, abs=0.01)
    assert to_ns(8.0 + 5.0) <= told.t_ns <= to_ns(16.0)


def test_a_sensor_that_stands_still_is_told() -> None:
    (told,) = ride(30.0, lambda _: 90.0, lambda _: 0.0)
    assert told.difference_rpm == pytest.approx(-90.0, abs=0.01)


def test_a_short_difference_is_not_told() -> None:
    # 8 rpm for 2 s makes 1.6 rpm over ten.
    assert ride(60.0, lambda _: 90.0, lambda t_s: 98.0 if 20.0 <= t_s < 22.0 else 90.0) == []


def test_a_sensor_that_follows_a_second_late_agrees_while_the_pace_changes() -> None:
    def pace(t_s: float) -> float:
        return 80.0 + 20.0 * min(max(t_s - 20.0, 0.0) / 20.0, 1.0)

    assert ride(60.0, pace, lambda t_s: pace(t_s - 1.5)) == []


def test_a_difference_that_comes_back_is_told_again() -> None:
    found = ride(90.0, lambda _: 90.0, lambda t_s: 90.0 if 30.0 <= t_s < 60.0 else 95.0)
    assert [told.t_ns > to_ns(60.0) for told in found] == [False, True]


def test_without_a_sensor_s_cadence_nothing_is_told() -> None:
    assert ride(30.0, lambda _: 90.0, lambda _: math.nan) == []


def test_a_sensor_that_has_stopped_sending_tells_no_difference() -> None:
    # Its last packets are those of a slower pace, and over ten seconds old.
    assert ride(60.0, lambda _: 90.0, lambda t_s: 90.0 if t_s < 20.0 else math.nan) == []


def test_memory_is_bounded() -> None:
    state = CadenceCheckState()
    for k in range(2000):
        state = cadence_check.take_effort(state, Effort(to_ns(k / 4), 200.0, 90.0))
        state, _ = cadence_check.take_stroke(state, to_ns(k / 4 - 0.25), to_ns(k / 4))
    assert len(state.readings) <= 13 * 4
    assert len(state.strokes) <= 41
