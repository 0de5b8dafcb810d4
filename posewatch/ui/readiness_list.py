"""The readiness list: one row a need, with mark, word, and what to do."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFrame, QGridLayout, QLabel, QScrollArea, QWidget

from posewatch.core.needs import Line, Need, Readiness
from posewatch.ui.readiness_marks import Mark
from posewatch.ui.setup_parts import label
from posewatch.ui.theme import Theme


class ReadinessList(QScrollArea):
    """All needs in their order; it scrolls where the window is low."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWidgetResizable(True)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setAccessibleName("readiness")
        inside = QFrame()
        inside.setObjectName("rows")
        grid = self._grid = QGridLayout(inside)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setColumnStretch(3, 1)
        grid.setHorizontalSpacing(12)
        self._rows: dict[Need, tuple[Mark, QLabel, QLabel]] = {}
        for row, need in enumerate(Need):
            name = label(str(need), "head", wraps=False)
            mark, level, words = Mark(), label(wraps=False), label()
            words.setTextFormat(Qt.TextFormat.RichText)
            mark.setFixedWidth(28)
            for column, widget in enumerate((mark, name, level, words)):
                grid.addWidget(widget, row, column)
            self._rows[need] = (mark, level, words)
        grid.setRowStretch(len(Need), 1)
        self.setWidget(inside)

    def tell(self, lines: Sequence[Line], theme: Theme) -> None:
        """Show how it stands."""
        letters = self.fontMetrics()
        self._grid.setVerticalSpacing(letters.height() // 3)
        widest = max(letters.horizontalAdvance(str(one)) for one in Readiness)
        self._grid.setColumnMinimumWidth(2, widest)
        for line in lines:
            mark, level, words = self._rows[line.need]
            mark.tell(line.level, theme)
            level.setText(str(line.level))
            text = escape(line.words)
            if line.advice and line.level is not Readiness.READY:
                text += f' <span style="color: {theme.faint}">&ndash; {escape(line.advice)}</span>'
            words.setText(text)
            words.setAccessibleName(f"{line.need}: {line.level}, {line.words}. {line.advice}")
