"""The list of marks, and the line in which one gets its label."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QEvent, Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QLabel, QLineEdit, QListWidget, QListWidgetItem, QVBoxLayout, QWidget

from posewatch.core.timebase import clock_text
from posewatch.ui.marks_view import Mark, Marks, last_own

#: Keys that end the typing, so that they begin no trial meanwhile.
ENDING = (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Escape)


class LabelLine(QLineEdit):
    """A line edit that keeps Return and Escape to itself while it is typed in."""

    def __init__(self, named: Callable[[str], None]) -> None:
        super().__init__()
        self._named = named
        self.setMaxLength(200)
        self.setAccessibleName("label of the last mark")

    def event(self, event: QEvent) -> bool:
        """Take the ending keys before any shortcut does."""
        if (
            event.type() is QEvent.Type.ShortcutOverride
            and isinstance(event, QKeyEvent)
            and event.key() in ENDING
            and not event.modifiers() & ~Qt.KeyboardModifier.KeypadModifier
        ):
            event.accept()
            return True
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Return names the mark, Escape leaves it; both give the keyboard back."""
        if event.key() not in ENDING:
            super().keyPressEvent(event)
            return
        if event.isAutoRepeat():
            return
        text = self.text().strip()
        self.clear()
        self.clearFocus()
        if text and event.key() != Qt.Key.Key_Escape:
            self._named(text)


class MarksList(QWidget):
    """Shows the marks, newest first. named: takes a mark's number and its label."""

    def __init__(self, named: Callable[[int, str], None]) -> None:
        super().__init__()
        self._named = named
        self._marks: Marks = ()
        self._open = False
        title = QLabel("marks")
        title.setObjectName("small")
        self._list = QListWidget()
        self._list.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._list.setSelectionMode(QListWidget.SelectionMode.NoSelection)
        self._list.setAccessibleName("marks, newest first")
        self._list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.line = LabelLine(self._name)
        rows = QVBoxLayout(self)
        rows.setContentsMargins(0, 0, 0, 0)
        rows.setSpacing(3)
        rows.addWidget(title)
        rows.addWidget(self._list, 1)
        rows.addWidget(self.line)
        self._show()

    def show_marks(self, marks: Marks, is_open: bool) -> None:
        """Show the marks. is_open: the log takes labels."""
        if marks is self._marks and is_open is self._open:
            return
        self._marks, self._open = marks, is_open
        self._show()

    def _show(self) -> None:
        self._list.clear()
        for mark in reversed(self._marks):
            item = QListWidgetItem(mark_line(mark))
            item.setToolTip(mark_line(mark))
            font = item.font()
            font.setStrikeOut(mark.withdrawn)
            font.setBold(mark is self._marks[-1])
            item.setFont(font)
            self._list.addItem(item)
        last = last_own(self._marks)
        self.line.setEnabled(self._open and last is not None)
        wanted = "no mark to label" if last is None else f"label for mark {last.number}"
        self.line.setPlaceholderText(wanted)

    def _name(self, label: str) -> None:
        last = last_own(self._marks)
        if last is not None:
            self._named(last.number, label)


def mark_line(mark: Mark) -> str:
    """Return a mark as one line."""
    label = f"  {mark.label}" if mark.label else ""
    back = "  (taken back)" if mark.withdrawn else ""
    return f"{mark.number}   {clock_text(mark.t_ns)}{label}{back}"
