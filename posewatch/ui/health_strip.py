"""The strip of health: one short item each, with a sign and a word where one is out of limits."""

from __future__ import annotations

from PySide6.QtGui import QColor, QPainter, QPaintEvent
from PySide6.QtWidgets import QWidget

from posewatch.ui.health_view import Item, Level
from posewatch.ui.theme import DARK, Theme


class HealthStrip(QWidget):
    """Shows items in one line, those that are out of limits in colour and weight."""

    def __init__(self, name: str = "health") -> None:
        super().__init__()
        self._items: tuple[Item, ...] = ()
        self._theme = DARK
        self.setAccessibleName(name)

    def show_items(self, items: tuple[Item, ...], theme: Theme) -> None:
        """Show the items."""
        if (items, theme) == (self._items, self._theme):
            return
        self._items, self._theme = items, theme
        self.setAccessibleDescription("; ".join(item.line for item in items))
        self.setToolTip("\n".join(item.line for item in items))
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint the items side by side; what is out of limits comes first, should room be short."""
        painter = QPainter(self)
        font = painter.font()
        base = painter.fontMetrics()
        y = (self.height() + base.ascent() - base.descent()) // 2
        x = 6
        for item in sorted(self._items, key=lambda one: -one.level):
            font.setBold(item.level is not Level.WELL)
            painter.setFont(font)
            colours = {Level.WELL: self._theme.faint, Level.WARN: self._theme.text}
            painter.setPen(QColor(colours.get(item.level, self._theme.fault)))
            painter.drawText(x, y, item.line)
            x += painter.fontMetrics().horizontalAdvance(item.line) + 22
        painter.end()
