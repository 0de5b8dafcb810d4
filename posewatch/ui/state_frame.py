"""The frame around the whole operator's window: a pattern of its own for each state."""

from __future__ import annotations

from collections.abc import Iterator

from PySide6.QtCore import QRect, Qt
from PySide6.QtGui import QBrush, QColor, QPainter, QPaintEvent
from PySide6.QtWidgets import QFrame

from posewatch.ui.operator_view import State
from posewatch.ui.theme import DARK, Theme

#: Length on and off along the frame, in its widths, of the states that have a broken line.
DASHES = {
    State.LOOKING: (1, 3),
    State.CAPTURING: (8, 1),
    State.RESET: (2, 1),
    State.SIT_IN: (1, 1),
    State.STEADYING: (4, 2),
}
#: Frames of two thin lines, and of which the inner one is broken.
DOUBLE = {State.PAUSED: False, State.REST: True}


class StateFrame(QFrame):
    """Holds the window's parts and paints the frame around them."""

    def __init__(self) -> None:
        super().__init__()
        self._width = 0
        self._state, self._theme = State.CURTAIN, DARK

    def set_width(self, width_px: int) -> None:
        """Let the frame be so wide."""
        self._width = width_px
        self.setContentsMargins(width_px, width_px, width_px, width_px)
        self.update()

    def show_state(self, state: State, theme: Theme) -> None:
        """Show a state."""
        if (state, theme) != (self._state, self._theme):
            self._state, self._theme = state, theme
            self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint ground and frame, as far as they have to be."""
        painter = QPainter(self)
        painter.fillRect(event.rect(), QColor(self._theme.ground))
        if not self._inside().contains(event.rect()):
            self._paint_frame(painter)
        painter.end()

    def _inside(self) -> QRect:
        t = self._width
        return self.rect().adjusted(t, t, -t, -t)

    def _paint_frame(self, painter: QPainter) -> None:
        state, theme, t = self._state, self._theme, self._width
        if state in DASHES:
            on, off = DASHES[state]
            colours = {State.LOOKING: theme.faint, State.CAPTURING: theme.edge}
            colour = colours.get(state, theme.held)
            for box in self._pieces(on * t, off * t):
                painter.fillRect(box, QColor(colour))
        elif state in DOUBLE:
            self._paint_double(painter, DOUBLE[state])
        elif state is State.ARMED:
            for box in self._corners(8 * t, t):
                painter.fillRect(box, QColor(theme.text))
        elif state in (State.COUNTING, State.REACHED):
            for box in self._sides():
                painter.fillRect(box, QColor(theme.counted))
            if state is State.REACHED:
                for box in self._holes(t // 2, 3 * t):
                    painter.fillRect(box, QColor(theme.ground))
        else:
            fault = state is State.FAULT
            colour = theme.fault if fault else theme.faint
            style = Qt.BrushStyle.DiagCrossPattern if fault else Qt.BrushStyle.BDiagPattern
            for box in self._sides():
                painter.fillRect(box, QBrush(QColor(colour), style))
            if fault:
                for box in self._pieces(2 * t, 2 * t):
                    painter.fillRect(box, QColor(colour))

    def _paint_double(self, painter: QPainter, broken: bool) -> None:
        thin = max(2, self._width // 4)
        for box in _sides_of(self.rect(), thin):
            painter.fillRect(box, QColor(self._theme.text))
        inset = self._width - thin
        inner = self.rect().adjusted(inset, inset, -inset, -inset)
        boxes = _sides_of(inner, thin)
        if broken:
            boxes = (piece for box in boxes for piece in _cut_up(box, 2 * inset, inset))
        for box in boxes:
            painter.fillRect(box, QColor(self._theme.text))

    def _sides(self) -> Iterator[QRect]:
        return _sides_of(self.rect(), self._width)

    def _pieces(self, on: int, off: int) -> Iterator[QRect]:
        for side in self._sides():
            yield from _cut_up(side, on, off)

    def _holes(self, size: int, step: int) -> Iterator[QRect]:
        """Give square holes along the middle of the frame."""
        inset = (self._width - size) // 2
        inner = self.rect().adjusted(inset, inset, -inset, -inset)
        for side in _sides_of(inner, size):
            yield from _cut_up(side, size, step - size)

    def _corners(self, length: int, thick: int) -> Iterator[QRect]:
        wide, high = self.width(), self.height()
        for x in (0, wide - length):
            for y in (0, high - thick):
                yield QRect(x, y, length, thick)
        for x in (0, wide - thick):
            for y in (0, high - length):
                yield QRect(x, y, thick, length)


def _sides_of(box: QRect, t: int) -> Iterator[QRect]:
    """Give the four sides of a frame of a thickness."""
    yield QRect(box.x(), box.y(), box.width(), t)
    yield QRect(box.x(), box.bottom() + 1 - t, box.width(), t)
    yield QRect(box.x(), box.y() + t, t, box.height() - 2 * t)
    yield QRect(box.right() + 1 - t, box.y() + t, t, box.height() - 2 * t)


def _cut_up(side: QRect, on: int, off: int) -> Iterator[QRect]:
    """Give the pieces of a broken side, each end with a piece."""
    along = side.width() if side.width() >= side.height() else side.height()
    n = max(1, round((along + off) / (on + off)))
    step = (along + off) / n
    for index in range(n):
        begin, end = round(index * step), round((index + 1) * step - off)
        if side.width() >= side.height():
            yield QRect(side.x() + begin, side.y(), end - begin, side.height())
        else:
            yield QRect(side.x(), side.y() + begin, side.width(), end - begin)
