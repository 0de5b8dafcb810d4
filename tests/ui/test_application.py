"""All windows together: who is open when, and what ends what."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QWidget
from pytestqt.qtbot import QtBot

from posewatch.core.capture import Subject
from posewatch.core.envelope import Target
from posewatch.store.remembered import Memory
from posewatch.store.settings import Settings
from posewatch.studio import Chosen, Doing, Studio
from posewatch.ui.application import Windows
from posewatch.ui.theme import LIGHT
from posewatch.ui.voice import Voice
from posewatch.watched_source import Source

LIMIT_MS = 20_000


class Ended:
    """Counts how often all was closed."""

    def __init__(self) -> None:
        self.n = 0

    def __call__(self) -> None:
        self.n += 1


def no_library() -> None:
    raise OSError("PortAudio library not found")


@pytest.fixture
def memory(tmp_path: Path) -> Memory:
    return Memory(tmp_path / "remembered.json")


@pytest.fixture
def windows(
    qtbot: QtBot, tmp_path: Path, memory: Memory, reference_recording: Path, ridden_target: Target
) -> Iterator[Windows]:
    """Windows of a studio in which source and target are chosen."""
    source = Source(reference_recording, "full", paced=True)
    studio = Studio(Settings(data_folder=tmp_path / "data"), Chosen(source, ridden_target))
    made = Windows(studio, memory, Voice(no_library))
    for window in (made.operator, made.rider, made.setup, made.fitter):
        qtbot.addWidget(window)
    yield made
    made.end()
    assert not made.is_polling
    assert not made.studio.engine.is_busy


def press(qtbot: QtBot, window: QWidget, *keys: Qt.Key) -> None:
    """Press keys in a window once it is the active one."""
    qtbot.waitUntil(window.isActiveWindow, timeout=LIMIT_MS)
    for key in keys:
        qtbot.keyClick(window, key)


def test_a_chosen_watch_begins_at_once_and_ends_with_the_operators_window(
    qtbot: QtBot, windows: Windows
) -> None:
    ended = Ended()
    windows.start(ended)
    studio = windows.studio
    assert studio.doing is Doing.WATCH
    assert windows.operator.isVisible()
    assert not windows.setup.isVisible()
    qtbot.waitUntil(lambda: studio.post.shown is not None, timeout=LIMIT_MS)
    qtbot.keyClick(windows.operator, Qt.Key.Key_Q, Qt.KeyboardModifier.ControlModifier)
    assert studio.doing is Doing.WATCH, "it asks before it ends a watch"
    assert windows.operator.isVisible()
    qtbot.keyClick(windows.operator, Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: ended.n == 1, timeout=LIMIT_MS)
    assert studio.doing is Doing.NOTHING
    assert len(studio.done) == 1
    assert not windows.operator.isVisible()


def test_without_a_choice_set_up_comes_first_and_closing_it_ends_all(
    qtbot: QtBot, windows: Windows
) -> None:
    ended = Ended()
    windows.studio.chosen = Chosen()
    windows.start(ended)
    assert windows.setup.isVisible()
    windows.setup.close()
    qtbot.waitUntil(lambda: ended.n == 1, timeout=LIMIT_MS)
    windows.end()
    assert ended.n == 1


def test_switches_work_from_every_window_and_are_remembered(
    qtbot: QtBot, windows: Windows, memory: Memory
) -> None:
    windows.start(Ended())
    keys = (Qt.Key.Key_L, Qt.Key.Key_Minus, Qt.Key.Key_Minus, Qt.Key.Key_Plus, Qt.Key.Key_C)
    press(qtbot, windows.operator, *keys)
    windows.poll()
    assert Memory(memory.path).choices.theme == "light"
    assert Memory(memory.path).choices.brightness == pytest.approx(0.9)
    switches = windows.switches
    assert (switches.theme, switches.cues, switches.brightness) == (LIGHT, False, 0.9)
    qtbot.waitUntil(lambda: windows.switches.no_sound != "", timeout=LIMIT_MS)
    assert "PortAudio" in windows.switches.no_sound


def test_the_riders_window_opens_and_closes_by_one_key_where_there_is_one_screen(
    qtbot: QtBot, windows: Windows
) -> None:
    assert len(QGuiApplication.screens()) == 1
    windows.start(Ended())
    assert not windows.rider.isVisible()
    press(qtbot, windows.operator, Qt.Key.Key_F)
    assert windows.rider.isVisible()
    assert windows.rider.isFullScreen()
    windows.operator.activateWindow()
    press(qtbot, windows.operator, Qt.Key.Key_F)
    assert not windows.rider.isVisible()


def test_a_window_that_fails_is_told_once_and_the_watch_goes_on(
    qtbot: QtBot,
    windows: Windows,
    monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
) -> None:
    def fails(_: object) -> None:
        raise ZeroDivisionError

    windows.start(Ended())
    monkeypatch.setattr(windows.operator, "show_scene", fails)
    with caplog.at_level(logging.ERROR):
        for _ in range(3):
            windows.poll()
    assert len([r for r in caplog.records if "OperatorWindow cannot be shown" in r.message]) == 1
    assert windows.studio.doing is Doing.WATCH


def test_from_set_up_to_the_fitter_and_back(qtbot: QtBot, windows: Windows) -> None:
    windows.studio.chosen = Chosen()
    windows.start(Ended())
    windows.setup.fitter_wanted.emit(Subject("r9", "b9", "drops"))
    assert windows.fitter.isVisible()
    assert not windows.setup.isVisible()
    assert windows.fitter.capture_panel.whose == ("r9", "b9", "drops")
    qtbot.waitUntil(windows.fitter.isActiveWindow, timeout=LIMIT_MS)
    qtbot.keyClick(windows.fitter, Qt.Key.Key_Q, Qt.KeyboardModifier.ControlModifier)
    assert windows.setup.isVisible()


def test_words_are_spoken_by_default_where_the_rider_sees_no_screen(
    qtbot: QtBot, windows: Windows, ridden_target: Target
) -> None:
    windows.studio.choose(target=replace(ridden_target, hands="drops"))
    windows.start(Ended())
    windows.poll()
    assert windows.switches.speech
    press(qtbot, windows.operator, Qt.Key.Key_W)
    windows.poll()
    assert not windows.switches.speech
