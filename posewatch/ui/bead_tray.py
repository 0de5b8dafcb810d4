"""The tray: one bead for each counted stroke, full at the goal."""

from __future__ import annotations

import math

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPainterPath, QPaintEvent, QPen
from PySide6.QtWidgets import QWidget

from posewatch.ui.theme import DARK, Theme
from posewatch.ui.tray import NO_BEADS, Beads

#: Shares of a slot: a bead's radius, an empty slot's dimple.
BEAD, DIMPLE = 0.42, 0.12
#: Of the widget's height: the tray's rim, and the room above it from which beads fall.
RIM, ABOVE = 0.05, 0.12


def tray_grid(slots: int, width: float, height: float) -> tuple[int, int, float]:
    """Return columns, rows and a slot's size so that slots are as large as the place allows."""
    best = (slots, 1, 0.0)
    for rows in range(1, slots + 1):
        columns = math.ceil(slots / rows)
        size = min(width / columns, height / rows)
        if size > best[2]:
            best = (columns, rows, size)
        elif size < best[2]:
            break
    return best


class BeadTray(QWidget):
    """Paints :class:`Beads`; beads lie column by column from the left, each column from below."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self._shown: tuple[Beads, Theme] = (NO_BEADS, DARK)

    def show_beads(self, beads: Beads, theme: Theme) -> None:
        """Take over what is shown now."""
        if (beads, theme) != self._shown:
            self._shown = beads, theme
            self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint."""
        beads, theme = self._shown
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.fillRect(event.rect(), QColor(theme.ground))
        if beads.slots:
            self._paint(painter, beads, theme)
        painter.end()

    def _paint(self, painter: QPainter, beads: Beads, theme: Theme) -> None:
        rim, above = RIM * self.height(), ABOVE * self.height()
        room_wide, room_high = self.width() - 4 * rim, self.height() - above - 3 * rim
        columns, rows, size = tray_grid(beads.slots, room_wide, room_high)
        left = (self.width() - columns * size) / 2
        floor = self.height() - 2 * rim
        self._tray(painter, QRectF(left, floor - rows * size, columns * size, rows * size), theme)
        laid, dimples = QPainterPath(), QPainterPath()
        landed = beads.filled - beads.falling
        for number in range(beads.slots):
            column, row = divmod(number, rows)
            at = QPointF(left + (column + 0.5) * size, floor - (row + 0.5) * size)
            if number >= beads.filled:
                dimples.addEllipse(at, DIMPLE * size, DIMPLE * size)
                continue
            if number >= landed:
                # Falling, it gains speed.
                way = at.y() - BEAD * size
                at.setY(at.y() - way * (1 - beads.fallen**2))
            laid.addEllipse(at, BEAD * size, BEAD * size)
        painter.fillPath(dimples, QColor(theme.unknown))
        painter.fillPath(laid, QColor(theme.counted))

    def _tray(self, painter: QPainter, inside: QRectF, theme: Theme) -> None:
        rim = RIM * self.height()
        box = inside.adjusted(-rim, 0, rim, rim)
        line = QPainterPath(box.topLeft())
        for corner in (box.bottomLeft(), box.bottomRight(), box.topRight()):
            line.lineTo(corner)
        pen = QPen(QColor(theme.unknown), rim)
        pen.setCapStyle(Qt.PenCapStyle.RoundCap)
        pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
        painter.strokePath(line, pen)
