"""How full the tray is."""

from __future__ import annotations

import pytest

from posewatch.ui.tray import FALL_NS, MOST_BEADS, NO_BEADS, TrayMemory, fill


@pytest.mark.parametrize("goal", [1, 8, 60, 200, 300, 301, 999, 100_000])
def test_the_tray_is_full_at_the_goal_and_not_before(goal: int) -> None:
    _, full = fill(TrayMemory(), goal, goal, 0)
    _, nearly = fill(TrayMemory(), goal - 1, goal, 0)
    assert full.filled == full.slots <= MOST_BEADS
    assert nearly.filled < nearly.slots
    assert fill(TrayMemory(), goal + 5, goal, 0)[1].filled == full.slots


def test_up_to_many_each_stroke_is_one_bead() -> None:
    for counted in range(60):
        assert fill(TrayMemory(), counted, 60, 0)[1].filled == counted


def test_what_has_come_falls_and_then_lies() -> None:
    tray, _ = fill(TrayMemory(), 0, 60, 0)
    tray, came = fill(tray, 8, 60, 10**9)
    assert (came.filled, came.falling, came.fallen) == (8, 8, 0.0)
    tray, halfway = fill(tray, 8, 60, 10**9 + FALL_NS // 2)
    assert (halfway.falling, halfway.fallen) == (8, 0.5)
    tray, next_one = fill(tray, 9, 60, 10**9 + FALL_NS // 2)
    assert (next_one.filled, next_one.falling) == (9, 1)
    tray, lies = fill(tray, 9, 60, 3 * 10**9)
    assert (lies.falling, lies.fallen) == (0, 1.0)


def test_without_a_goal_there_is_no_tray() -> None:
    assert fill(TrayMemory(), 5, 0, 0)[1] == NO_BEADS
