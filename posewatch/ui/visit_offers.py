"""Where set-up's other pages lead to a visit: at the beginning, and beside the readiness list."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QHBoxLayout, QVBoxLayout, QWidget

from posewatch.ui import setup_view
from posewatch.ui.setup_desk import Desk
from posewatch.ui.setup_parts import button, label
from posewatch.ui.setup_view import Step


class LeftVisit(QWidget):
    """Offers at the beginning to go on with the newest visit that was left, or to close it."""

    def __init__(self, desk: Desk, changed: Callable[[], None]) -> None:
        super().__init__()
        self._desk, self._changed = desk, changed
        self._go_on = button("", lambda: self._begin(), "large")
        self._close = button("&Close that visit, or see others that were left", lambda: self._see())
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self._go_on)
        column.addWidget(self._close, 0, Qt.AlignmentFlag.AlignLeft)

    def tell(self) -> None:
        """Say which it is."""
        left = self._desk.visits.left
        self.setVisible(bool(left))
        if left:
            words = left[0].words.replace("&", "&&")
            self._go_on.setText(f"&Go on with the visit that was left\n{words}")

    def first(self) -> QWidget | None:
        """Return the button that goes on, None = nothing was left."""
        return self._go_on if self._desk.visits.left else None

    def _begin(self) -> None:
        desk = self._desk
        desk.visits.go_on(desk.visits.left[0])
        if setup_view.can_be_same(desk.memory.choices):
            desk.begin_same()
        else:
            desk.begin_new()
        self._changed()

    def _see(self) -> None:
        self._desk.visits.go_on(self._desk.visits.left[0])
        self._desk.go(Step.VISIT)
        self._changed()


class VisitRow(QWidget):
    """Says which visit will be conducted, and leads to the page on which it is chosen."""

    def __init__(self, desk: Desk, changed: Callable[[], None]) -> None:
        super().__init__()
        self._desk = desk
        self._words = label("")
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.addWidget(label("visit", "head", wraps=False))
        row.addWidget(self._words, 1)
        self._choose = button("Blind trials: choose a &visit", lambda: self._go(changed))
        row.addWidget(self._choose)

    def tell(self) -> None:
        """Say what is chosen."""
        self._words.setText(self._desk.visits.words)
        self._choose.setEnabled(self._desk.visits.visiting is None)

    def _go(self, changed: Callable[[], None]) -> None:
        self._desk.go(Step.VISIT)
        changed()
