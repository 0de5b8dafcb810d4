"""Count-downs on a screen that is no terminal: a line now and then, not one a second."""

from __future__ import annotations

import signal
from pathlib import Path

import pytest

from posewatch.app import Watcher
from posewatch.cli.trial_screen import TerminalScreen
from posewatch.core.envelope import Target
from posewatch.core.watch_plan import WatchPlan
from posewatch.store.settings import Settings
from posewatch.watched_source import Source


def test_a_wait_is_a_line_a_minute(capsys: pytest.CaptureFixture[str]) -> None:
    screen = TerminalScreen()
    for left_s in range(180, -1, -1):
        screen.left(f"{left_s} s to go", float(left_s))
    assert capsys.readouterr().out.splitlines() == ["180 s to go", "120 s to go", "60 s to go"]
    screen.left("another", 30.0)
    assert capsys.readouterr().out.splitlines() == ["another"]


def test_ctrl_c_in_a_trial_stops_its_watch_and_nothing_else(
    ridden_target: Target,
) -> None:
    source = Source(Path("x.landmarks.npz"), "full")
    watcher = Watcher(source, ridden_target, WatchPlan(), Settings())
    before = signal.getsignal(signal.SIGINT)
    with TerminalScreen().riding(watcher):
        signal.raise_signal(signal.SIGINT)
        assert watcher.stop.is_set()
    assert signal.getsignal(signal.SIGINT) is before
