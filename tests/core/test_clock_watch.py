"""Steps of the wall clock and sleeps of the machine, told apart from readings of three clocks."""

from __future__ import annotations

import pytest

from posewatch.core.clock_watch import Clocks, Jump, between, duration_words, step_told
from posewatch.core.records import CLOCK, NS_PER_S, SourceCondition

START = Clocks(7 * NS_PER_S, 5 * NS_PER_S, 1_700_000_000 * NS_PER_S)


def later(s: float, slept_s: float = 0.0, stepped_s: float = 0.0) -> Clocks:
    """The clocks after so many seconds awake, a sleep and a step of the wall clock.

    As clock_gettime(2) has it: BOOTTIME counts a suspended system's time too, MONOTONIC does not,
    and the wall clock goes on by the hardware's.
    """
    return Clocks(
        START.running_ns + round((s + slept_s) * NS_PER_S),
        START.awake_ns + round(s * NS_PER_S),
        START.wall_ns + round((s + slept_s + stepped_s) * NS_PER_S),
    )


@pytest.mark.parametrize("s", [0.0, 0.03, 10.0, 7200.0])
def test_clocks_that_go_together_say_nothing(s: float) -> None:
    assert between(START, later(s)) == Jump()


@pytest.mark.parametrize("stepped_s", [3600.0, -3600.0, 0.6, -0.6])
def test_a_step_is_a_step_and_no_sleep(stepped_s: float) -> None:
    assert between(START, later(0.1, stepped_s=stepped_s)) == Jump(0, round(stepped_s * NS_PER_S))


@pytest.mark.parametrize("slept_s", [0.6, 30.0, 3600.0])
def test_a_sleep_is_a_sleep_and_no_step(slept_s: float) -> None:
    assert between(START, later(0.1, slept_s=slept_s)) == Jump(round(slept_s * NS_PER_S), 0)


def test_both_at_once_are_told_apart() -> None:
    """A clock that is set right after a night in a bag."""
    assert between(START, later(0.1, 8.0, -2.0)) == Jump(8 * NS_PER_S, -2 * NS_PER_S)


@pytest.mark.parametrize(("slept_s", "stepped_s"), [(0.4, 0.0), (0.0, 0.4), (0.0, -0.4)])
def test_less_than_half_a_second_is_neither(slept_s: float, stepped_s: float) -> None:
    assert between(START, later(1.0, slept_s, stepped_s)) == Jump()


def test_a_clock_that_is_slewed_never_steps() -> None:
    """chrony slews by 8.3333 % at the most (chrony.conf, maxslewrate); looks are 0.1 s apart."""
    jumps = []
    for number in range(1000):
        before, now = (later(0.1 * n, stepped_s=0.083333 * 0.1 * n) for n in (number, number + 1))
        jumps.append(between(before, now))
    assert set(jumps) == {Jump()}


@pytest.mark.parametrize(("s", "words"), [(3600.0, "forward by 60 min"), (-0.7, "back by 0.7 s")])
def test_a_step_is_told_with_its_way_and_size(s: float, words: str) -> None:
    told = step_told(5, round(s * NS_PER_S))
    assert (told.t_ns, told.source, told.condition) == (5, CLOCK, SourceCondition.STEPPED)
    assert words in told.text


def test_durations_are_as_exact_as_people_want_them() -> None:
    words = [duration_words(round(s * NS_PER_S)) for s in (0.64, 119.0, 121.0, 7199.0, 9000.0)]
    assert words == ["0.6 s", "119.0 s", "2 min", "120 min", "2.5 h"]
