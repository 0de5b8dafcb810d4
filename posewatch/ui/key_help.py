"""The page of keys over a window, from the one table, and keys in sentences."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QMouseEvent
from PySide6.QtWidgets import QFrame, QGridLayout, QLabel, QWidget

from posewatch.ui.keys import KEYS, Act, first_key


def with_keys(text: str) -> str:
    """Return a text in which the name of an act in braces became its key."""
    for act in Act:
        text = text.replace(f"{{{act.name}}}", first_key(act))
    return text


class KeyHelp(QFrame):
    """Lists all keys; a click or the help key takes it away. Keys go on working meanwhile."""

    def __init__(self, over: QWidget) -> None:
        super().__init__(over)
        self._over = over
        self.setObjectName("overlay")
        self.setAccessibleName("keys")
        self.hide()
        grid = QGridLayout(self)
        grid.setContentsMargins(36, 28, 36, 28)
        grid.setHorizontalSpacing(28)
        grid.setVerticalSpacing(7)
        half = (len(KEYS) + 1) // 2
        for index, key in enumerate(KEYS):
            row, column = index % half, 2 * (index // half)
            names = QLabel("  ".join(key.keys))
            names.setObjectName("key")
            grid.addWidget(names, row, column)
            grid.addWidget(QLabel(str(key.act)), row, column + 1)
        note = QLabel("A foot switch that sends Page Down or Page Up marks or rests.")
        note.setObjectName("small")
        grid.addWidget(note, half, 0, 1, 4)

    def toggle(self) -> None:
        """Show it, or take it away."""
        self.setVisible(not self.isVisible())
        self.place()

    def place(self) -> None:
        """Put it in the middle of what it is over."""
        self.adjustSize()
        box = self._over.rect()
        self.move(box.center() - self.rect().center())
        self.raise_()

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Take it away."""
        if event.button() is Qt.MouseButton.LeftButton:
            self.hide()
