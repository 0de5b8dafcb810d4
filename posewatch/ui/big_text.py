"""Words and digits as large as their place lets them be, in a heavy sans-serif."""

from __future__ import annotations

from functools import lru_cache

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPainterPath, QPaintEvent
from PySide6.QtWidgets import QWidget

from posewatch.ui.theme import DARK

#: The size that is measured at, px.
MEASURED_PX = 100
#: Above and below a line, in heights of its place.
MARGIN = 0.06


def _font(family: str) -> QFont:
    font = QFont(family)
    font.setStyleHint(QFont.StyleHint.SansSerif)
    font.setWeight(QFont.Weight.Bold)
    font.setPixelSize(MEASURED_PX)
    return font


@lru_cache
def _room(family: str, texts: tuple[str, ...]) -> tuple[float, float, float]:
    """Return the widest text's width, and how high above and below the line any goes."""
    metrics = QFontMetricsF(_font(family))
    rects = [metrics.tightBoundingRect(text) for text in texts]
    widest = max(metrics.horizontalAdvance(text) for text in texts)
    return widest, -min(rect.top() for rect in rects), max(rect.bottom() for rect in rects)


def paint_text(
    painter: QPainter, rect: QRectF, text: str, colour: str, like: tuple[str, ...]
) -> None:
    """Paint a text in the middle of a place, so large that any text of ``like`` would fit.

    The painter may be scaled in any way: letters are painted as shapes.
    """
    font = _font(painter.font().family())
    widest, above, below = _room(font.family(), like)
    scale = min(rect.width() / widest, rect.height() / (above + below))
    path = QPainterPath()
    path.addText(0.0, 0.0, font, text)
    width = QFontMetricsF(font).horizontalAdvance(text)
    painter.save()
    painter.translate(rect.center())
    painter.scale(scale, scale)
    painter.translate(-width / 2, (above - below) / 2)
    painter.fillPath(path, QColor(colour))
    painter.restore()


class BigText(QWidget):
    """One line, the same size whichever of its texts it shows."""

    def __init__(self, like: tuple[str, ...], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self._like = like
        self._shown = ("", DARK.text, DARK.ground)

    def show_text(self, text: str, colour: str, ground: str) -> None:
        """Take over what is shown now."""
        shown = (text, colour, ground)
        if shown != self._shown:
            self._shown = shown
            self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint."""
        text, colour, ground = self._shown
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.fillRect(event.rect(), QColor(ground))
        if text:
            room = MARGIN * self.height()
            place = QRectF(self.rect()).adjusted(0, room, 0, -room)
            paint_text(painter, place, text, colour, self._like)
        painter.end()
