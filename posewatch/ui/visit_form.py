"""A few lines to type in, inside the operator's window: nothing waits for them."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtCore import QEvent, Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QFrame, QGridLayout, QLabel, QLineEdit, QVBoxLayout, QWidget

from posewatch.ui.setup_parts import label
from posewatch.ui.visit_forms import Form

HINT = "Return: next line, at the last one keep.  Ctrl+Return: keep.  Esc: leave."
ENTER = (Qt.Key.Key_Return, Qt.Key.Key_Enter)
#: By how many fields each key goes on.
MOVES = {Qt.Key.Key_Down: 1, Qt.Key.Key_Up: -1}
LONGEST = 500


class FormLine(QLineEdit):
    """A line edit that keeps to itself the keys by which a form is gone through.

    pressed: takes such a key, and whether Ctrl was held.
    """

    def __init__(self, text: str, pressed: Callable[[int, bool], None]) -> None:
        super().__init__(text)
        self._pressed = pressed
        self.setMaxLength(LONGEST)

    def event(self, event: QEvent) -> bool:
        """Take these keys before any shortcut does."""
        is_ours = isinstance(event, QKeyEvent) and _is_ours(event)
        if event.type() is QEvent.Type.ShortcutOverride and is_ours:
            event.accept()
            return True
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Go through the form, or type."""
        if not _is_ours(event):
            super().keyPressEvent(event)
        elif not event.isAutoRepeat():
            held = bool(event.modifiers() & Qt.KeyboardModifier.ControlModifier)
            self._pressed(event.key(), held)


def _is_ours(event: QKeyEvent) -> bool:
    key, modifiers = event.key(), event.modifiers() & ~Qt.KeyboardModifier.KeypadModifier
    if key in ENTER:
        return modifiers in (Qt.KeyboardModifier.NoModifier, Qt.KeyboardModifier.ControlModifier)
    return modifiers == Qt.KeyboardModifier.NoModifier and (
        key in MOVES or key == Qt.Key.Key_Escape
    )


class VisitForm(QFrame):
    """Shows a form, hidden while there is none; the first field has the keyboard.

    keep: takes what was typed and returns what is wrong with it, empty = nothing. leave: is called
    when the form is left.
    """

    def __init__(self, keep: Callable[[Sequence[str]], str], leave: Callable[[], object]) -> None:
        super().__init__()
        self._keep, self._leave = keep, leave
        self._form: Form | None = None
        self._lines: list[FormLine] = []
        self._inside: QWidget | None = None
        self.setObjectName("overlay")
        self.setAccessibleName("what is typed")
        self._rows = QVBoxLayout(self)
        self._rows.setContentsMargins(14, 8, 14, 8)
        self._problem = label("", "problem")
        self.hide()

    def show_form(self, form: Form | None) -> None:
        """Show a form; None takes it away and gives the keyboard back."""
        if form is self._form:
            return
        self._form = form
        if self._inside is not None:
            for line in self._lines:
                line.clearFocus()
            self._rows.removeWidget(self._inside)
            self._inside.hide()
            self._inside.deleteLater()
            self._inside, self._lines = None, []
        self.setVisible(form is not None)
        if form is not None:
            self._inside = self._made(form)
            self._rows.addWidget(self._inside)
            self._inside.show()  # now, and not with the next layout: keys may follow at once
            self._lines[0].setFocus()
            self._lines[0].selectAll()

    def _made(self, form: Form) -> QWidget:
        inside = QWidget()
        rows = QVBoxLayout(inside)
        rows.setContentsMargins(0, 0, 0, 0)
        rows.addWidget(label(form.title, "question"))
        for words in form.words:
            rows.addWidget(label(words))
        grid = QGridLayout()
        widest = max(len(row.fields) for row in form.rows)
        for column, head in enumerate(form.heads, 1):
            grid.addWidget(label(head, "small", wraps=False), 0, column)
        for number, row in enumerate(form.rows, 1):
            name = QLabel(row.label)
            grid.addWidget(name, number, 0)
            for column, field in enumerate(row.fields, 1):
                line = FormLine(field.text, self._pressed)
                line.setAccessibleName(field.name)
                line.setPlaceholderText(field.hint)
                wide = widest if len(row.fields) == 1 else 1
                grid.addWidget(line, number, column, 1, wide)
                self._lines.append(line)
            name.setBuddy(self._lines[-len(row.fields)])
        for column in range(widest):
            grid.setColumnStretch(column + 1, 1)
        rows.addLayout(grid)
        self._problem = label("", "problem")
        self._problem.setAccessibleName("what is wrong")
        self._problem.hide()
        rows.addWidget(self._problem)
        rows.addWidget(label(HINT, "small"))
        return inside

    def _pressed(self, key: int, held: bool) -> None:
        if key == Qt.Key.Key_Escape:
            self._leave()
            return
        here = next((k for k, line in enumerate(self._lines) if line.hasFocus()), 0)
        if key not in ENTER:
            self._go((here + MOVES[Qt.Key(key)]) % len(self._lines))
        elif held or here == len(self._lines) - 1:
            problem = self._keep([line.text() for line in self._lines])
            self._problem.setText(problem)
            self._problem.setVisible(bool(problem))
        else:
            self._go(here + 1)

    def _go(self, place: int) -> None:
        self._lines[place].setFocus()
        self._lines[place].selectAll()
