"""Changes back and forth, note and author, and keeping the target as a new version."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Signal
from PySide6.QtWidgets import (
    QCheckBox,
    QFormLayout,
    QGroupBox,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from posewatch.ui.keys import Act, first_key
from posewatch.ui.target_edits import Editing, tight, why_not_kept

NO_CHANGE = "Nothing changed."


class KeepPanel(QGroupBox):
    """Signals: undo_wanted, redo_wanted, note_set(text), author_set(text), kept(all_the_same)."""

    undo_wanted = Signal()
    redo_wanted = Signal()
    note_set = Signal(str)
    author_set = Signal(str)
    kept = Signal(bool)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__("Keep it", parent)
        self._editing: Editing | None = None
        self._undo = QPushButton("&Undo")
        self._undo.setAccessibleName(f"undo ({first_key(Act.UNDO)})")
        self._redo = QPushButton("Re&do")
        self._changes = QLabel(NO_CHANGE)
        self._changes.setObjectName("faint")
        self._note, self._author = QLineEdit(), QLineEdit()
        self._note.setAccessibleName("note")
        self._author.setAccessibleName("author")
        self._all_the_same = QCheckBox("Keep &tight limits all the same")
        self._why_not = QLabel()
        self._why_not.setObjectName("faint")
        self._keep = QPushButton("&Keep as a new version")
        self._keep.setObjectName("main")
        for label in (self._changes, self._why_not):
            label.setWordWrap(True)
        self._lay_out()
        self._undo.clicked.connect(self.undo_wanted)
        self._redo.clicked.connect(self.redo_wanted)
        self._note.editingFinished.connect(lambda: self.note_set.emit(self._note.text()))
        self._author.editingFinished.connect(lambda: self.author_set.emit(self._author.text()))
        self._all_the_same.toggled.connect(lambda _: self._show_whether())
        self._keep.clicked.connect(lambda: self.kept.emit(self._all_the_same.isChecked()))
        self.show_editing(None)

    def _lay_out(self) -> None:
        changes = QHBoxLayout()
        changes.addWidget(self._undo)
        changes.addWidget(self._redo)
        changes.addWidget(self._changes, 1)
        form = QFormLayout()
        form.addRow("Note", self._note)
        form.addRow("Author", self._author)
        layout = QVBoxLayout(self)
        layout.addLayout(changes)
        layout.addLayout(form)
        layout.addWidget(self._all_the_same)
        layout.addWidget(self._keep)
        layout.addWidget(self._why_not)

    def write(self, note: str, author: str) -> None:
        """Write note and author of a target to come."""
        self._note.setText(note)
        self._author.setText(author)

    @property
    def note(self) -> str:
        """The note as it is written now."""
        return self._note.text()

    @property
    def author(self) -> str:
        """The author as written now."""
        return self._author.text()

    def show_editing(self, editing: Editing | None) -> None:
        """Show what can be undone and whether the target can be kept; None = no target yet."""
        before, self._editing = self._editing, editing
        if editing is not None:
            for field, text in (
                (self._note, editing.target.note),
                (self._author, editing.target.author),
            ):
                if field.text().strip() != text:
                    field.setText(text)
        self._undo.setEnabled(editing is not None and bool(editing.past))
        self._redo.setEnabled(editing is not None and bool(editing.future))
        past: Sequence[str] = [] if editing is None else [edit.words for edit in editing.past]
        self._changes.setText(f"Last: {past[-1]}" if past else NO_CHANGE)
        needs_word = editing is not None and bool(tight(editing))
        self._all_the_same.setVisible(needs_word)
        if not needs_word or before is None or editing is None or tight(before) != tight(editing):
            self._all_the_same.setChecked(False)  # a word given for one limit is none for another
        self._show_whether()

    def _show_whether(self) -> None:
        why_not = why_not_kept(self._editing, self._all_the_same.isChecked())
        self._keep.setEnabled(not why_not)
        self._why_not.setText(why_not)
