"""The visit in the operator's window: where it is and what is next, and its lists.

What is shown comes from ``visit_view`` and ``visit_lines``.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from PySide6.QtCore import Qt
from PySide6.QtGui import QColor
from PySide6.QtWidgets import (
    QFrame,
    QGridLayout,
    QListWidget,
    QListWidgetItem,
    QVBoxLayout,
    QWidget,
)

from posewatch.ui import visit_lines, visit_view
from posewatch.ui.key_help import with_keys
from posewatch.ui.keys import Act
from posewatch.ui.operator_buttons import ActButtons
from posewatch.ui.setup_parts import label
from posewatch.ui.theme import DARK, Theme
from posewatch.ui.visit_form import VisitForm
from posewatch.ui.visit_forms import Form
from posewatch.ui.visit_lines import Row
from posewatch.ui.visit_view import VisitNow

OF_A_VISIT = (
    (Act.SKIP, "leave out"),
    (Act.REPEAT, "ride again"),
    (Act.RATE, "rate"),
    (Act.NOTE, "note"),
    (Act.GAUGE, "hardness"),
    (Act.FIGURES, "figures"),
)


#: A form of more rows needs the room of the list.
MOST_ROWS_BESIDE = 3


class VisitStrip(QFrame):
    """Two lines: where the visit is, and the one thing that is next."""

    def __init__(self) -> None:
        super().__init__()
        self.setObjectName("strip")
        self.setAccessibleName("visit")
        self._shown: tuple[str, ...] = ()
        self._where = label("", "where", wraps=False)
        self._left = label("", "small", wraps=False)
        self._step = label("", "step")
        self._todo = label("", "small")
        self._todo.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        grid = QGridLayout(self)
        grid.setContentsMargins(8, 4, 8, 4)
        grid.setHorizontalSpacing(18)
        grid.addWidget(self._where, 0, 0)
        grid.addWidget(self._left, 0, 1, Qt.AlignmentFlag.AlignRight)
        grid.addWidget(self._step, 1, 0)
        grid.addWidget(self._todo, 1, 1)
        grid.setColumnStretch(0, 3)
        grid.setColumnStretch(1, 2)

    def show_now(self, now: VisitNow) -> None:
        """Show how the visit stands."""
        step = visit_view.step_of(now)
        left = "   ".join(filter(None, (*visit_view.timers(now), visit_view.left_words(now))))
        shown = (visit_view.where(now), left, step.words, with_keys(step.todo))
        if shown == self._shown:
            return
        self._shown = shown
        for part, text in zip(
            (self._where, self._left, self._step, self._todo), shown, strict=True
        ):
            part.setText(text)
        kind = "done" if step.is_done else "fault" if now.fault else "step"
        if self._step.objectName() != kind:
            self._step.setObjectName(kind)
            self._step.style().unpolish(self._step)
            self._step.style().polish(self._step)
        self.setAccessibleDescription("; ".join(filter(None, shown)))


class VisitBoard(QWidget):
    """The check list or the trials, what is missing, what is typed, and the visit's keys."""

    def __init__(
        self,
        acts: Mapping[Act, Callable[[], None]],
        keep: Callable[[Sequence[str]], str],
        leave: Callable[[], object],
    ) -> None:
        super().__init__()
        self._rows: tuple[Row, ...] = ()
        self._theme = DARK
        self._title, self._missing = label("", "small"), label("", "missing")
        self._missing.setAccessibleName("missing for the next trial")
        self._list = QListWidget()
        self._list.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._list.setSelectionMode(QListWidget.SelectionMode.NoSelection)
        self._list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._list.setWordWrap(True)
        self._list.setMinimumHeight(60)
        self.form = VisitForm(keep, leave)
        self._buttons = ActButtons(OF_A_VISIT, acts)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(4)
        column.addWidget(self._title)
        column.addWidget(self._list, 1)
        column.addWidget(self.form)
        column.addWidget(self._missing)
        column.addWidget(self._buttons, 0, Qt.AlignmentFlag.AlignLeft)

    def show_now(self, now: VisitNow, form: Form | None, theme: Theme) -> None:
        """Show how the visit stands, and what is typed."""
        self.form.show_form(form)
        self._title.setText(visit_lines.title(now))
        self._list.setAccessibleName(visit_lines.title(now))
        missing = visit_lines.missing(now)
        lines = [f"missing for the next trial:  {missing[0]}", *missing[1:]] if missing else []
        self._missing.setText("\n".join(lines))
        self._missing.setVisible(bool(missing) and form is None)
        has_room = form is None or len(form.rows) <= MOST_ROWS_BESIDE
        self._title.setVisible(has_room)
        self._list.setVisible(has_room)
        self._buttons.setVisible(form is None)  # their letters are typed meanwhile
        state = now.state
        ready = state.visit > 0 and not now.fault
        self._buttons.enable(
            {
                Act.SKIP: bool(visit_lines.skips(now)),
                Act.REPEAT: visit_lines.can_repeat(now),
                Act.RATE: ready and state.run is None and bool(state.runs),
                Act.NOTE: not now.fault,
                Act.GAUGE: ready,
                Act.FIGURES: ready,
            }
        )
        rows = visit_lines.rows(now)
        if (rows, theme) != (self._rows, self._theme):
            self._rows, self._theme = rows, theme
            self._show_rows()

    def _show_rows(self) -> None:
        self._list.clear()
        for row in self._rows:
            item = QListWidgetItem(row.line)
            item.setToolTip(row.line)
            font = item.font()
            font.setBold(row.is_marked)
            item.setFont(font)
            if row.is_marked:
                item.setBackground(QColor(self._theme.held))
                item.setForeground(QColor("#F4F7F9"))
            self._list.addItem(item)
        marked = [k for k, row in enumerate(self._rows) if row.is_marked]
        if marked:
            self._list.scrollToItem(self._list.item(marked[0]))
