"""A fitter's window on a studio of its own, and a hand for it."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pyqtgraph as pg
import pytest
from made_fitter_scenes import scene
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QAbstractButton, QComboBox, QDoubleSpinBox, QLabel, QLineEdit
from pytestqt.qtbot import QtBot

from posewatch.core.envelope import Target
from posewatch.core.records import Channel
from posewatch.store.settings import Settings
from posewatch.store.target_shelf import save_target
from posewatch.studio import Studio
from posewatch.ui.fitter_window import FitterWindow


class Desk:
    """A window on a studio of its own, and a hand for it."""

    def __init__(self, qtbot: QtBot, data_folder: Path) -> None:
        self.qtbot, self.folder = qtbot, data_folder
        self.studio = Studio(Settings(data_folder=data_folder))
        self.answer: Path | None = None
        self.window = FitterWindow(self.studio, ask=lambda _: self.answer)
        qtbot.addWidget(self.window)
        self.window.resize(1280, 720)
        with qtbot.waitExposed(self.window):
            self.window.show()
        self.poll()

    def poll(self) -> None:
        self.window.show_scene(scene(self.studio))

    def until(self, done: Callable[[], bool], timeout_ms: int = 60_000) -> None:
        def polled() -> bool:
            self.poll()
            return done()

        self.qtbot.waitUntil(polled, timeout=timeout_ms)

    def find(self, kind: type[Any], name: str) -> Any:
        """Find a widget by its accessible name, or a button by what is on it."""
        found = [
            w
            for w in self.window.findChildren(kind)
            if w.accessibleName() == name
            or (isinstance(w, QAbstractButton) and w.text().replace("&", "") == name)
        ]
        assert len(found) == 1, (name, found)
        return found[0]

    def press(self, name: str) -> None:
        self.qtbot.mouseClick(self.find(QAbstractButton, name), Qt.MouseButton.LeftButton)

    def write(self, name: str, text: str) -> None:
        combos = [c for c in self.window.findChildren(QComboBox) if c.accessibleName() == name]
        field = combos[0].lineEdit() if combos else self.find(QLineEdit, name)
        field.setFocus()
        field.selectAll()
        self.qtbot.keyClicks(field, text)

    def write_whose(self, rider: str, bike: str, hands: str) -> None:
        for name, text in (("rider", rider), ("bike", bike), ("hands", hands)):
            self.write(name, text)

    def limit(self, channel: str) -> QDoubleSpinBox:
        box: QDoubleSpinBox = self.find(QDoubleSpinBox, f"limit of {channel}")
        return box

    def type_limit(self, channel: str, text: str) -> None:
        box = self.limit(channel)
        box.setFocus()
        box.selectAll()
        self.qtbot.keyClicks(box, text)
        self.qtbot.keyClick(box, Qt.Key.Key_Return)

    @property
    def words(self) -> str:
        """All that the window says now."""
        return "\n".join(
            label.text() for label in self.window.findChildren(QLabel) if label.isVisible()
        )

    @property
    def target(self) -> Target:
        assert self.window.desk.target is not None
        return self.window.desk.target

    def tol(self, channel: Channel) -> float:
        held = self.target.envelope(channel)
        return held.tol * held.unit.nominal

    def kept(self, name: str) -> dict[str, Any]:
        path = self.folder / "targets" / f"{name}.json"
        document: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
        return document


@contextmanager
def fitter_at_work(qtbot: QtBot, data_folder: Path) -> Iterator[Desk]:
    """Open the window, and close it and its studio at the end."""
    with pytest.MonkeyPatch.context() as patch:
        # Mouse events come faster here than any hand makes them.
        patch.setitem(pg.CONFIG_OPTIONS, "mouseRateLimit", 0)
        made = Desk(qtbot, data_folder)
        yield made
        assert made.studio.close(20.0)
        made.window.close()


def open_saved(desk: Desk, target: Target) -> Desk:
    """Save a target and open it in the window."""
    save_target(target, desk.folder)
    desk.window.desk.reload()
    desk.poll()
    desk.write_whose(target.rider, target.bike, target.hands)
    desk.press("open the saved version")
    return desk
