"""The wall clock is steady only after it was watched; a step is told at once."""

from __future__ import annotations

import math

from posewatch.core.records import NS_PER_S
from posewatch.ui.clock_watch import ClockWatch


def test_steady_only_after_ten_seconds_and_a_step_at_once() -> None:
    wall_ns = 10**18
    watch = ClockWatch(lambda: wall_ns)
    assert math.isnan(watch.step_s(5 * NS_PER_S))
    wall_ns += 9 * NS_PER_S
    assert math.isnan(watch.step_s(14 * NS_PER_S))
    wall_ns += 2 * NS_PER_S
    assert watch.step_s(16 * NS_PER_S) == 0.0
    wall_ns += 4 * NS_PER_S
    assert watch.step_s(17 * NS_PER_S) == 3.0


def test_a_step_before_the_ten_seconds_is_told() -> None:
    wall_ns = 10**18
    watch = ClockWatch(lambda: wall_ns)
    watch.step_s(0)
    wall_ns -= 60 * NS_PER_S
    assert watch.step_s(NS_PER_S) == -61.0
