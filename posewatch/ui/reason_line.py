"""The reason line: a shape for each sort of reason, the sentence, and what to do."""

from __future__ import annotations

from PySide6.QtCore import QPoint, QRect, Qt
from PySide6.QtGui import QBrush, QColor, QFont, QFontMetrics, QPainter, QPaintEvent, QPen, QPolygon
from PySide6.QtWidgets import QWidget

from posewatch.ui.reason_view import Kind, Line
from posewatch.ui.theme import DARK, Theme

#: Sizes of the sentence and of what to do, in plain letters; a long sentence shrinks to the least.
SENTENCE, LEAST, TODO = 1.6, 1.1, 1.15


class ReasonLine(QWidget):
    """Paints the line in one row, however long its words are."""

    def __init__(self) -> None:
        super().__init__()
        self._line, self._theme = Line(Kind.STOPPED, ""), DARK
        self._letters = 13
        self.setAccessibleName("why this stroke does or does not count")

    def show_line(self, line: Line, theme: Theme, letters: int) -> None:
        """Show a line, its keys filled in. letters: height of plain letters, px."""
        if (line, theme, letters) == (self._line, self._theme, self._letters):
            return
        self._line, self._theme, self._letters = line, theme, letters
        self.setFixedHeight(round(2.2 * letters))
        self.setAccessibleDescription(f"{line.text}; {line.todo}" if line.todo else line.text)
        self.setToolTip(self.accessibleDescription())
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint shape, sentence and what to do."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        side = self.height() - 8
        _SHAPES[self._line.kind](painter, QRect(6, 4, side, side), self._theme)
        painter.setPen(QColor(self._theme.text))
        left = side + 22
        font, words = self._sentence(self.width() - left)
        painter.setFont(font)
        high, middle = self.height(), Qt.AlignmentFlag.AlignVCenter
        painter.drawText(QRect(left, 0, self.width() - left, high), middle, words)
        left += painter.fontMetrics().horizontalAdvance(words) + 16
        painter.setFont(_font(self.font(), TODO * self._letters, QFont.Weight.Normal))
        room = self.width() - left
        words = painter.fontMetrics().elidedText(
            self._line.todo, Qt.TextElideMode.ElideRight, max(0, room)
        )
        painter.drawText(QRect(left, 0, room, high), middle, words)
        painter.end()

    def _sentence(self, room: int) -> tuple[QFont, str]:
        """Return the largest font in which the sentence has room, and what there is room for."""
        text = self._line.text
        large = _font(self.font(), SENTENCE * self._letters, QFont.Weight.DemiBold)
        if QFontMetrics(large).horizontalAdvance(text) <= room:
            return large, text
        small = _font(self.font(), LEAST * self._letters, QFont.Weight.DemiBold)
        return small, QFontMetrics(small).elidedText(text, Qt.TextElideMode.ElideRight, room)


def _font(plain: QFont, px: float, weight: QFont.Weight) -> QFont:
    font = QFont(plain)
    font.setPixelSize(round(px))
    font.setWeight(weight)
    return font


def _counts(painter: QPainter, box: QRect, theme: Theme) -> None:
    painter.fillRect(box.adjusted(box.width() // 4, 0, -box.width() // 4, 0), QColor(theme.counted))


def _soon(painter: QPainter, box: QRect, theme: Theme) -> None:
    painter.setPen(QPen(QColor(theme.counted), max(2, box.width() // 10)))
    painter.drawRect(box.adjusted(box.width() // 4, 1, -box.width() // 4, -2))


def _off(painter: QPainter, box: QRect, theme: Theme) -> None:
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(QColor(theme.off))
    top = QPoint(box.center().x(), box.y())
    painter.drawPolygon(QPolygon([top, box.bottomRight(), box.bottomLeft()]))


def _unknown(painter: QPainter, box: QRect, theme: Theme) -> None:
    painter.fillRect(box, QBrush(QColor(theme.faint), Qt.BrushStyle.BDiagPattern))
    painter.setPen(QPen(QColor(theme.faint), 2))
    painter.drawRect(box.adjusted(1, 1, -2, -2))


def _stopped(painter: QPainter, box: QRect, theme: Theme) -> None:
    third = box.width() // 3
    for x in (box.x(), box.right() - third + 1):
        painter.fillRect(QRect(x, box.y(), third, box.height()), QColor(theme.text))


def _fault(painter: QPainter, box: QRect, theme: Theme) -> None:
    painter.setPen(QPen(QColor(theme.fault), max(3, box.width() // 5)))
    inside = box.adjusted(3, 3, -3, -3)
    painter.drawLine(inside.topLeft(), inside.bottomRight())
    painter.drawLine(inside.topRight(), inside.bottomLeft())


_SHAPES = {
    Kind.COUNTS: _counts,
    Kind.SOON: _soon,
    Kind.OFF: _off,
    Kind.UNKNOWN: _unknown,
    Kind.STOPPED: _stopped,
    Kind.FAULT: _fault,
}
