"""The operator's window on a studio whose jobs do nothing, for tests."""

from __future__ import annotations

from pathlib import Path

from exact_rider import target
from idle_engine import IdleEngine, idle_studio
from made_operator_scenes import BEGUN_NS, of_watch, stands
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel, QLineEdit, QListWidget, QWidget
from pytestqt.qtbot import QtBot

from posewatch.core.records import NS_PER_S, CommandKind
from posewatch.studio import Studio
from posewatch.ui.keys import Act
from posewatch.ui.operator_window import OperatorWindow
from posewatch.ui.scene import Scene

NO = Qt.KeyboardModifier.NoModifier


class Room:
    """A window on a studio whose jobs do nothing, with a clock that tests set."""

    def __init__(self, qtbot: QtBot, folder: Path) -> None:
        self.studio: Studio
        self.engine: IdleEngine
        self.studio, self.engine = idle_studio(folder, target())
        self.seconds = 0.0
        self.closed = 0
        self.others: list[Act] = []
        self.window = OperatorWindow(
            self.studio,
            {Act.THEME: lambda: self.others.append(Act.THEME)},
            self._count,
            lambda: BEGUN_NS + round(self.seconds * NS_PER_S),
        )
        # Its studio stays busy for ever, so that closing would only be asked about.
        qtbot.addWidget(self.window, before_close_func=lambda window: window.hide())
        self.window.resize(1280, 720)
        with qtbot.waitExposed(self.window):
            self.window.show()
        self.window.activateWindow()

    def _count(self) -> None:
        self.closed += 1

    def show(self, one: Scene) -> None:
        """Show a scene at its time, as the studio does what the scene says."""
        self.seconds = (one.monotonic_ns - BEGUN_NS) / NS_PER_S
        self.window.show_scene(one)

    def watch(self) -> None:
        """Begin a watch."""
        self.studio.watch()
        self.show(of_watch(stands(t_s=0.0), seconds=0.0))

    def press(self, qtbot: QtBot, key: Qt.Key, modifier: Qt.KeyboardModifier = NO) -> None:
        qtbot.keyClick(self.window, key, modifier)

    def commands(self) -> list[tuple[CommandKind, str]]:
        return [(c.kind, c.text) for c in self.studio.post.controls.taken(0, 0)]

    def texts(self) -> str:
        """All that is written in labels and told of painted parts."""
        labels = [label.text() for label in self.window.findChildren(QLabel) if label.isVisible()]
        told = [part.accessibleDescription() for part in self.window.findChildren(QWidget)]
        return "\n".join(labels + told)

    def rows(self, name: str) -> list[str]:
        """The lines of a list, by its accessible name."""
        found = next(
            one
            for one in self.window.findChildren(QListWidget)
            if one.accessibleName().startswith(name)
        )
        return [found.item(row).text() for row in range(found.count())]

    @property
    def label_line(self) -> QLineEdit:
        return self.window.findChildren(QLineEdit)[0]
