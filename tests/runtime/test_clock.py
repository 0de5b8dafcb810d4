"""This machine's clocks: they go together, and are read together."""

from __future__ import annotations

import threading
import time

import pytest

from posewatch.core.clock_watch import Jump, between
from posewatch.runtime import clock


def test_clocks_of_one_machine_go_together() -> None:
    before = clock.clocks()
    time.sleep(0.02)
    after = clock.clocks()
    assert after.running_ns - before.running_ns > 15_000_000
    assert after.awake_ns - before.awake_ns > 15_000_000
    assert between(before, after) == Jump()


def test_a_program_kept_waiting_between_two_clocks_reads_them_again(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The wall clock is first read a second after the running one: that is no step."""
    now_s = 100.0
    held = [True]

    def wall_ns() -> int:
        nonlocal now_s
        now_s += held.pop() if held else 0.0
        return round((now_s + 1000) * 1e9)

    monkeypatch.setattr(clock, "monotonic_ns", lambda: round(now_s * 1e9))
    monkeypatch.setattr(clock, "awake_ns", lambda: round(now_s * 1e9))
    monkeypatch.setattr(clock, "wall_ns", wall_ns)
    found = clock.clocks()
    assert found.wall_ns - found.running_ns == 1000 * 10**9
    assert not held


def test_waiting_ends_at_its_moment_or_when_stopped() -> None:
    stop = threading.Event()
    due_ns = clock.monotonic_ns() + 20_000_000
    assert clock.wait_until(due_ns, stop)
    assert clock.monotonic_ns() >= due_ns
    assert clock.wait_until(0, stop)
    stop.set()
    assert not clock.wait_until(clock.monotonic_ns() + 10**12, stop)
