"""One person, one screen, keys only: from the start to a captured target and a watched ride."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path

import pytest
from linkage_rider import ride
from made_rides import write_ride
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QPushButton, QWidget
from pytestqt.qtbot import QtBot

from posewatch import opening
from posewatch.core.records import CommandKind, Seen
from posewatch.store.remembered import Memory
from posewatch.store.session_reader import SessionReader
from posewatch.store.settings import Settings
from posewatch.store.target_shelf import list_targets
from posewatch.studio import Doing, Studio
from posewatch.ui.application import Windows
from posewatch.ui.setup_view import Step
from posewatch.ui.voice import Voice

LIMIT_MS = 60_000
#: What is looked at goes on so many times faster than ridden; what is captured and watched goes as
#: fast as it is handled.
FASTER = 8
ALT = Qt.KeyboardModifier.AltModifier
CTRL = Qt.KeyboardModifier.ControlModifier


def faster(studio: Studio) -> Callable[[Iterable[Seen], threading.Event], Iterator[Seen]]:
    """Return what paces frames as the program does, in less time."""

    def paced(frames: Iterable[Seen], stop: threading.Event) -> Iterator[Seen]:
        last_ns = 0
        for item in frames:
            wait_s = (item.t_ns - last_ns) / 1e9 / FASTER
            if stop.wait(wait_s if studio.doing is Doing.PREVIEW else 0.0):
                return
            last_ns = item.t_ns
            yield item

    return paced


class Person:
    """Hands on the keyboard, eyes on the windows."""

    def __init__(self, qtbot: QtBot, windows: Windows) -> None:
        self.qtbot, self.windows = qtbot, windows
        self.n_keys = 0

    def press(
        self, key: Qt.Key, modifier: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier
    ) -> None:
        window = self._window()
        QTest.keyClick(window.focusWidget() or window, key, modifier)
        self.n_keys += 1

    def type(self, text: str) -> None:
        window = self._window()
        QTest.keyClicks(window.focusWidget() or window, text)
        self.n_keys += len(text)

    def until(self, what: Callable[[], bool]) -> None:
        self.qtbot.waitUntil(what, timeout=LIMIT_MS)

    def _window(self) -> QWidget:
        windows = self.windows
        found = next(w for w in (windows.setup, windows.fitter, windows.operator) if w.isVisible())
        self.until(found.isActiveWindow)
        return found


@pytest.fixture
def windows(qtbot: QtBot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Windows]:
    studio = Studio(Settings(data_folder=tmp_path / "data"))
    monkeypatch.setattr(opening, "paced", faster(studio))
    made = Windows(studio, Memory(tmp_path / "remembered.json"), Voice())
    for window in (made.operator, made.rider, made.setup, made.fitter):
        qtbot.addWidget(window)
    yield made
    made.end()


def test_alone_with_the_keys(qtbot: QtBot, windows: Windows, tmp_path: Path) -> None:
    recording = write_ride(tmp_path / "side.landmarks.npz", ride(45.0, seed=8))
    ended: list[bool] = []
    person, studio, desk = Person(qtbot, windows), windows.studio, windows.setup.desk
    windows.start(lambda: ended.append(True))

    person.press(Qt.Key.Key_Space)
    assert desk.setup.step is Step.CONSENT
    person.type("r17")
    person.press(Qt.Key.Key_Return)
    assert desk.setup.step is Step.CAMERA
    person.press(Qt.Key.Key_N, ALT)
    person.type(str(recording))
    person.press(Qt.Key.Key_Return)
    person.until(lambda: desk.runs)
    person.press(Qt.Key.Key_Return)
    assert desk.setup.step is Step.PROFILE
    person.press(Qt.Key.Key_Down)
    person.press(Qt.Key.Key_Return)
    assert desk.setup.step is Step.TARGET
    person.type("road")
    person.press(Qt.Key.Key_Return)
    person.until(windows.fitter.isVisible)

    person.press(Qt.Key.Key_S, ALT)
    person.until(lambda: studio.doing is Doing.CAPTURE)
    person.until(lambda: windows.fitter.desk.target is not None)
    person.press(Qt.Key.Key_T, ALT)  # sits are not known from one: the limits are kept as they are
    person.press(Qt.Key.Key_K, ALT)
    person.until(lambda: len(list_targets(studio.settings.data_folder)) == 1)
    person.press(Qt.Key.Key_Q, CTRL)
    person.until(windows.setup.isVisible)

    person.until(lambda: desk.setup.step is Step.SENSORS)
    person.press(Qt.Key.Key_Return)  # without sensors
    assert desk.setup.step is Step.READY
    go_on = windows.setup.findChild(QPushButton, "main")
    while studio.doing is not Doing.WATCH:  # each thing that is still to do, by the same key
        person.until(lambda: go_on.isEnabled() or studio.doing is Doing.WATCH)
        if studio.doing is not Doing.WATCH:
            person.press(Qt.Key.Key_Return)
            qtbot.wait(200)
    assert windows.operator.isVisible()
    person.press(Qt.Key.Key_M)
    person.until(lambda: len(studio.done) == 1)
    folder, result = studio.done[0]
    assert result.totals.n_counted > 30
    with SessionReader(folder) as session:
        commands = [i for _, i in session.inputs() if hasattr(i, "kind")]
    kinds = [one.kind for one in commands]
    assert kinds.count(CommandKind.MARK) == 3
    assert commands[0].text.startswith("consent v3 given by r17")
    person.press(Qt.Key.Key_Q, CTRL)
    person.until(lambda: ended == [True])
    assert person.n_keys < 40 + len(str(recording))
