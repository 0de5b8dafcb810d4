"""The mark of a readiness: a shape first, a colour beside it."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QIcon, QPainter, QPaintEvent, QPen, QPixmap
from PySide6.QtWidgets import QWidget

from posewatch.core.needs import Readiness
from posewatch.ui.theme import DARK, Theme


def colour_of(level: Readiness, theme: Theme) -> str:
    """Return the colour that goes with a readiness."""
    return {
        Readiness.READY: theme.held,
        Readiness.GAP: theme.off,
        Readiness.MISSING: theme.fault,
        Readiness.UNCHECKED: theme.faint,
    }[level]


def paint_mark(painter: QPainter, place: QRectF, level: Readiness, theme: Theme) -> None:
    """Paint a full disc (ready), half a disc (gap), a barred ring (missing) or a dotted one."""
    colour = QColor(colour_of(level, theme))
    side = min(place.width(), place.height())
    width = side / 8
    disc = QRectF(0, 0, side - width, side - width)
    disc.moveCenter(place.center())
    pen = QPen(colour, width)
    if level is Readiness.UNCHECKED:
        pen.setStyle(Qt.PenStyle.CustomDashLine)
        pen.setDashPattern([1.0, 1.2])
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setPen(pen)
    painter.setBrush(colour if level is Readiness.READY else Qt.BrushStyle.NoBrush)
    painter.drawEllipse(disc)
    if level is Readiness.GAP:
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(colour)
        painter.drawPie(disc, 180 * 16, 180 * 16)
    elif level is Readiness.MISSING:
        reach = disc.width() / 2 * 0.7
        centre = disc.center()
        painter.drawLine(centre - QPointF(reach, reach), centre + QPointF(reach, reach))


def mark_icon(level: Readiness, theme: Theme, side_px: int) -> QIcon:
    """Return a mark as an icon."""
    pixmap = QPixmap(side_px, side_px)
    pixmap.fill(Qt.GlobalColor.transparent)
    painter = QPainter(pixmap)
    paint_mark(painter, QRectF(pixmap.rect()), level, theme)
    painter.end()
    icon = QIcon(pixmap)
    icon.addPixmap(pixmap, QIcon.Mode.Disabled)
    return icon


class Mark(QWidget):
    """A mark beside words that say the same."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._level, self._theme = Readiness.UNCHECKED, DARK

    def tell(self, level: Readiness, theme: Theme) -> None:
        """Show a readiness."""
        if (level, theme) != (self._level, self._theme):
            self._level, self._theme = level, theme
            self.setAccessibleName(str(level))
            self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint the mark in the middle."""
        painter = QPainter(self)
        side = min(self.width(), self.height(), painter.fontMetrics().height()) - 2
        place = QRectF(0, 0, side, side)
        place.moveCenter(QRectF(self.rect()).center())
        paint_mark(painter, place, self._level, self._theme)
        painter.end()
