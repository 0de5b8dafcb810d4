"""Drawings of right and wrong places for the camera and for the rider's screen."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPainterPath, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from posewatch.core.needs import Readiness
from posewatch.ui.readiness_marks import paint_mark
from posewatch.ui.theme import DARK, Theme

#: A drawing's own units; it is scaled to its place.
WIDTH, HEIGHT = 200.0, 120.0
_FLAGS = int(Qt.TextFlag.TextWordWrap | Qt.AlignmentFlag.AlignTop)

Drawing = Callable[[QPainter, Theme], None]


@dataclass(frozen=True, slots=True)
class Place:
    """One drawing: right or wrong, and why."""

    is_right: bool
    words: str
    draw: Drawing

    @property
    def told(self) -> str:
        """What stands under the drawing."""
        return f"{'right' if self.is_right else 'wrong'}: {self.words}"


class PlacePictures(QWidget):
    """Drawings beside each other, right and wrong ones."""

    def __init__(self, places: tuple[Place, ...], name: str) -> None:
        super().__init__()
        self._places, self._theme = places, DARK
        self.setAccessibleName(name)
        self.setAccessibleDescription("; ".join(one.told for one in places))
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)

    def tell(self, theme: Theme) -> None:
        """Paint in a theme."""
        if theme != self._theme:
            self._theme = theme
            self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint every drawing with its mark and words under it."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        line = painter.fontMetrics().height()
        each = self.width() / len(self._places)
        wide = each - 2.2 * line
        high = max(_words_rect(painter, QRectF(0, 0, wide, 0), p).height() for p in self._places)
        for number, place in enumerate(self._places):
            box = QRectF(number * each + 2, 1, each - 4, self.height() - 2)
            caption = QRectF(box.left() + 1.7 * line, box.bottom() - high - 0.4 * line, wide, high)
            self._paint_one(painter, box, caption, place)
        painter.end()

    def _paint_one(self, painter: QPainter, box: QRectF, caption: QRectF, place: Place) -> None:
        theme = self._theme
        painter.setPen(QPen(QColor(theme.line), 1))
        painter.setBrush(QColor(theme.panel))
        painter.drawRect(box)
        room = QRectF(box.topLeft(), QPointF(box.right(), caption.top()))
        scale = min(room.width() / WIDTH, room.height() / HEIGHT)
        painter.save()
        painter.translate(room.center())
        painter.scale(scale, scale)
        painter.translate(-WIDTH / 2, -HEIGHT / 2)
        place.draw(painter, theme)
        painter.restore()
        level = Readiness.READY if place.is_right else Readiness.MISSING
        line = painter.fontMetrics().height()
        mark = QRectF(caption.left() - 1.4 * line, caption.top() + 0.05 * line, line, line)
        paint_mark(painter, mark.adjusted(1, 1, -1, -1), level, theme)
        painter.setPen(QColor(theme.text))
        painter.drawText(caption, _FLAGS, place.told)


def _words_rect(painter: QPainter, room: QRectF, place: Place) -> QRectF:
    return painter.boundingRect(room, _FLAGS, place.told)


def camera_places() -> PlacePictures:
    """Return where the camera stands."""
    return PlacePictures(
        (
            Place(True, "square, 2.5 m away or more", _seen_square),
            Place(True, "lens at hip height, level", _seen_level),
            Place(False, "turned, or too near", _seen_turned),
        ),
        "where the camera stands",
    )


def screen_places() -> PlacePictures:
    """Return where the rider's screen stands."""
    return PlacePictures(
        (
            Place(True, "low and straight ahead", lambda p, t: _screen(p, t, low=True)),
            Place(False, "high or aside: the neck turns", lambda p, t: _screen(p, t, low=False)),
        ),
        "where the rider's screen stands",
    )


def _pen(colour: str, width: float) -> QPen:
    pen = QPen(QColor(colour), width)
    pen.setCapStyle(Qt.PenCapStyle.RoundCap)
    pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    return pen


def _camera(painter: QPainter, theme: Theme, at: QPointF, towards_deg: float, reach: float) -> None:
    """Draw a camera and what it sees; towards_deg: 0 = to the right, 90 = up."""
    painter.save()
    painter.translate(at)
    painter.rotate(-towards_deg)
    half = math.tan(math.radians(26)) * reach
    seen = QColor(theme.edge)
    seen.setAlpha(50)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(seen)
    painter.drawPolygon([QPointF(4, 0), QPointF(reach, -half), QPointF(reach, half)])
    painter.setBrush(QColor(theme.text))
    painter.drawRect(QRectF(-12, -6, 13, 12))
    painter.drawRect(QRectF(1, -3, 5, 6))
    painter.restore()


def _bike_from_above(painter: QPainter, theme: Theme) -> None:
    """Draw bike and rider from above, ahead to the right, the bike along y = 28."""
    painter.setPen(_pen(theme.faint, 4))
    painter.drawLine(QPointF(52, 28), QPointF(86, 28))
    painter.drawLine(QPointF(114, 28), QPointF(148, 28))
    painter.setPen(_pen(theme.text, 3))
    painter.drawLine(QPointF(128, 17), QPointF(128, 39))
    for side in (-1, 1):
        painter.drawLine(QPointF(112, 28 + 8 * side), QPointF(128, 28 + 11 * side))
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(QColor(theme.text))
    painter.drawEllipse(QPointF(94, 28), 20, 8)
    painter.drawEllipse(QPointF(120, 28), 6, 5)


def _seen_square(painter: QPainter, theme: Theme) -> None:
    _camera(painter, theme, QPointF(100, 112), 90, 100)
    _bike_from_above(painter, theme)
    painter.setPen(QPen(QColor(theme.text), 1, Qt.PenStyle.DashLine))
    painter.drawLine(QPointF(100, 98), QPointF(100, 40))


def _seen_turned(painter: QPainter, theme: Theme) -> None:
    _camera(painter, theme, QPointF(160, 76), 140, 76)
    _bike_from_above(painter, theme)


def _seen_level(painter: QPainter, theme: Theme) -> None:
    """Draw from behind the bike: its rider to the left, the camera at hip height to the right."""
    floor = 112.0
    _camera(painter, theme, QPointF(170, 62), 180, 110)
    painter.setPen(_pen(theme.faint, 2))
    painter.drawLine(QPointF(10, floor), QPointF(190, floor))
    for foot in (160, 180):
        painter.drawLine(QPointF(170, 70), QPointF(foot, floor))
    painter.setPen(_pen(theme.faint, 4))
    painter.drawLine(QPointF(50, 74), QPointF(50, floor))
    painter.setPen(_pen(theme.text, 6))
    for side in (-1, 1):
        painter.drawLine(QPointF(50 + 8 * side, 64), QPointF(50 + 11 * side, 100))
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(QColor(theme.text))
    painter.drawRoundedRect(QRectF(36, 26, 28, 42), 10, 10)
    painter.drawEllipse(QPointF(50, 16), 8, 9)
    painter.setPen(QPen(QColor(theme.text), 1, Qt.PenStyle.DashLine))
    painter.drawLine(QPointF(70, 62), QPointF(156, 62))


def _screen(painter: QPainter, theme: Theme, low: bool) -> None:
    """Draw the rider from the side, looking to a screen."""
    painter.setPen(_pen(theme.faint, 2))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.drawLine(QPointF(6, 112), QPointF(194, 112))
    for x in (36, 104):
        painter.drawEllipse(QPointF(x, 92), 19, 19)
    frame = QPainterPath(QPointF(36, 92))
    for x, y in ((63, 92), (54, 58), (96, 56), (104, 92)):
        frame.lineTo(x, y)
    painter.drawPath(frame)
    painter.setPen(_pen(theme.text, 6))
    for points in (((55, 52), (88, 24)), ((88, 26), (100, 50)), ((55, 54), (78, 70), (68, 98))):
        body = QPainterPath(QPointF(*points[0]))
        for x, y in points[1:]:
            body.lineTo(x, y)
        painter.drawPath(body)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(QColor(theme.text))
    painter.drawEllipse(QPointF(98, 16), 8, 9)
    screen = QPointF(172, 64) if low else QPointF(150, 10)
    painter.setPen(QPen(QColor(theme.text), 1, Qt.PenStyle.DashLine))
    painter.drawLine(QPointF(107, 18), screen - QPointF(5, 0))
    painter.save()
    painter.translate(screen)
    painter.rotate(18 if low else -12)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(QColor(theme.edge))
    painter.drawRect(QRectF(-3, -20, 6, 40) if low else QRectF(-3, -9, 6, 40))
    painter.restore()
    if low:
        painter.setPen(_pen(theme.faint, 2))
        painter.drawLine(QPointF(172, 84), QPointF(172, 112))
