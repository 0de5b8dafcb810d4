"""The fitter's places of words: which target this is, and what came of the last act."""

from __future__ import annotations

from PySide6.QtWidgets import QLabel, QVBoxLayout, QWidget

from posewatch.core.envelope import Target
from posewatch.ui.fitter_view import cautions_of, name_of, origin_of

NO_TARGET = "No target yet"


class FitterHead(QWidget):
    """Says what is to be done in a capture; else, which target this is."""

    def __init__(self) -> None:
        super().__init__()
        self.title, self._origin, self._cautions = QLabel(), QLabel(), QLabel()
        self.title.setObjectName("title")
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(2)
        column.addWidget(self.title)
        for label in (self._origin, self._cautions):
            label.setObjectName("faint")
            label.setWordWrap(True)
            column.addWidget(label)

    def show_words(self, now: str, early: str, target: Target | None) -> None:
        """Show what is to be done now, empty = nothing, and what an early end would cost."""
        name = NO_TARGET if target is None else name_of(target)
        self.title.setText(now or name)
        origin = "" if target is None else origin_of(target)
        self._origin.setText(early if now else origin)
        self._cautions.setText("" if now or target is None else "  ".join(cautions_of(target)))


class FitterNote(QLabel):
    """Says what came of the last thing that was done."""

    def __init__(self) -> None:
        super().__init__()
        self.setWordWrap(True)

    def show_note(self, note: str, is_trouble: bool) -> None:
        """Show a note, empty = none."""
        self.setObjectName("trouble" if is_trouble else "note")
        self.setText(note)
        self.setVisible(bool(note))
        self.style().unpolish(self)
        self.style().polish(self)
