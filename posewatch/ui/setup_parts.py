"""The few kinds of widgets that set-up's pages are made of."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QItemSelectionModel, Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QLabel, QLineEdit, QListWidget, QListWidgetItem, QPushButton


def label(text: str = "", kind: str = "", wraps: bool = True) -> QLabel:
    """Return a text; kind: its name in the style sheet, such as "title", "head", "faint"."""
    made = QLabel(text)
    made.setObjectName(kind)
    made.setWordWrap(wraps)
    made.setTextFormat(Qt.TextFormat.PlainText)
    return made


def button(text: str, pressed: Callable[[], object], kind: str = "") -> QPushButton:
    """Return a button; & before a letter makes Alt and that letter press it."""
    made = QPushButton(text)
    made.setObjectName(kind)
    made.setAutoDefault(False)
    made.clicked.connect(lambda: pressed())
    return made


def field(name: str, hint: str = "", text: str = "") -> QLineEdit:
    """Return a line to type in; name: for those who hear it read."""
    made = QLineEdit(text)
    made.setAccessibleName(name)
    made.setPlaceholderText(hint)
    return made


def command() -> QLabel:
    """Return a command to be copied or typed."""
    made = label("", "command")
    made.setTextInteractionFlags(
        Qt.TextInteractionFlag.TextSelectableByMouse
        | Qt.TextInteractionFlag.TextSelectableByKeyboard
    )
    return made


def buddy(text: str, of: QLineEdit) -> QLabel:
    """Return the label of a field; & before a letter makes Alt and that letter lead to it."""
    made = QLabel(text)
    made.setBuddy(of)
    return made


class Choices(QListWidget):
    """A list of which one is picked; a choice is a name, a detail and what stands behind it."""

    def __init__(self, name: str) -> None:
        super().__init__()
        self.setAccessibleName(name)
        self.setWordWrap(True)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)

    def offer(self, choices: list[tuple[str, str, object]], picked: object) -> None:
        """Offer choices anew; nothing is signalled. picked: what stands behind the picked one."""
        if [self._shown(row) for row in range(self.count())] != [
            (f"{name}\n{detail}" if detail else name, behind) for name, detail, behind in choices
        ]:
            self.blockSignals(True)
            self.clear()
            for name, detail, behind in choices:
                item = QListWidgetItem(f"{name}\n{detail}" if detail else name)
                item.setData(Qt.ItemDataRole.UserRole, behind)
                self.addItem(item)
            self.blockSignals(False)
        self.pick(picked)

    def pick(self, behind: object) -> None:
        """Pick what something stands behind; nothing is signalled."""
        rows = [row for row in range(self.count()) if self._shown(row)[1] == behind]
        self.blockSignals(True)
        if rows and not self.item(rows[0]).isSelected():
            self.setCurrentRow(rows[0])
        elif not rows:
            self.clearSelection()
        self.blockSignals(False)

    def picked(self) -> object:
        """Return what stands behind the picked choice, None = none is picked."""
        picked = self.selectedItems()
        return picked[0].data(Qt.ItemDataRole.UserRole) if picked else None

    def has_picked(self) -> bool:
        """Tell whether anything is picked: what stands behind it may be None."""
        return bool(self.selectedItems())

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Where nothing is picked yet, an arrow picks the first one, not the second."""
        arrows = (Qt.Key.Key_Down, Qt.Key.Key_Up)
        if event.key() in arrows and not self.has_picked() and self.count():
            self.setCurrentRow(0, QItemSelectionModel.SelectionFlag.ClearAndSelect)
        else:
            super().keyPressEvent(event)

    def _shown(self, row: int) -> tuple[str, object]:
        item = self.item(row)
        return item.text(), item.data(Qt.ItemDataRole.UserRole)
