"""A visit's clock: it runs on, passes over waits where nothing counts, and sees clocks jump."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from posewatch.core.clock_watch import Clocks, Jump
from posewatch.core.timebase import to_ns
from posewatch.runtime import clock
from posewatch.runtime.visit_clock import VisitClock


@pytest.fixture
def set_clocks(monkeypatch: pytest.MonkeyPatch) -> Callable[[float, float, float], None]:
    """Set the running, the waking and the wall clock, s."""

    def put(running_s: float, awake_s: float, wall_s: float) -> None:
        found = Clocks(to_ns(running_s), to_ns(awake_s), to_ns(wall_s))
        monkeypatch.setattr(clock, "clocks", lambda: found)
        monkeypatch.setattr(clock, "monotonic_ns", lambda: found.running_ns)

    put(100.0, 50.0, 1e9)
    return put


def test_it_runs_on_from_where_the_visit_was(
    set_clocks: Callable[[float, float, float], None],
) -> None:
    made = VisitClock(to_ns(7.0), fast=False)
    assert made.now_ns == to_ns(7.0)
    set_clocks(103.5, 53.5, 1e9 - 9999.0)
    assert made.now_ns == to_ns(10.5)


def test_time_is_passed_over_only_where_waits_are(
    set_clocks: Callable[[float, float, float], None],
) -> None:
    fast = VisitClock(0, fast=True)
    fast.pass_over(600.0)
    assert fast.now_ns == to_ns(600.0)
    with pytest.raises(RuntimeError):
        VisitClock(0, fast=False).pass_over(1.0)


def test_a_step_of_the_wall_clock_and_a_sleep_are_told_once(
    set_clocks: Callable[[float, float, float], None],
) -> None:
    made = VisitClock(0, fast=False)
    set_clocks(101.0, 51.0, 1e9 + 1.0)
    assert made.jump() == Jump()
    set_clocks(102.0, 52.0, 1e9 + 3602.0)
    assert made.jump() == Jump(0, to_ns(3600.0))
    set_clocks(103.0, 53.0, 1e9 + 3603.0)
    assert made.jump() == Jump()
    set_clocks(203.0, 54.0, 1e9 + 3703.0)
    assert made.jump() == Jump(to_ns(99.0), 0)
