"""Shapes of the rider's window, in heights of the mark from its middle: x in travel, y down.

Lines are areas here: filling them costs a fraction of stroking them at every painting.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import NamedTuple

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QPainterPath, QPainterPathStroker, QPolygonF, QTransform

#: The nest's gap to the mark, and where its lips are: behind the seat, before the hands.
GAP = 0.11
LIPS = QPointF(-0.9, -0.12), QPointF(0.9, -0.02)
#: Room between two parts of the nest, and how fine its line is.
BETWEEN = 0.11
STEP = 0.03
#: Line widths: of the mark, of a part of the nest that is lit, and of one that is not.
OUTLINE, NEST, NEST_FAINT = 0.045, 0.06, 0.03
#: How far what is orange is edged.
EDGED = 0.025
#: Qt makes corners of curves to the pixel: so many pixels to a height of the mark.
FINE = 1000.0
TO_FINE, AS_GIVEN = QTransform.fromScale(FINE, FINE), QTransform.fromScale(1 / FINE, 1 / FINE)


def _mark() -> QPainterPath:
    """Return the body: seat low behind, a back that arches, hands low in front."""
    path = QPainterPath(QPointF(-0.78, 0.16))
    path.cubicTo(-0.80, -0.20, -0.34, -0.50, 0.14, -0.50)
    path.cubicTo(0.54, -0.50, 0.82, -0.22, 0.82, 0.14)
    path.cubicTo(0.82, 0.36, 0.52, 0.38, 0.46, 0.20)
    path.cubicTo(0.41, 0.05, 0.24, 0.00, 0.08, 0.12)
    path.cubicTo(-0.10, 0.26, -0.18, 0.50, -0.46, 0.50)
    path.cubicTo(-0.66, 0.50, -0.77, 0.36, -0.78, 0.16)
    path.closeSubpath()
    return path


def _arrow() -> QPainterPath:
    """Return a broad arrow to the right."""
    path = QPainterPath()
    corners = ((0.29, 0.0), (0.01, 0.28), (0.01, 0.12), (-0.29, 0.12))
    points = [QPointF(x, y) for x, y in corners]
    points += [QPointF(x, -y) for x, y in reversed(corners[1:])]
    path.addPolygon(QPolygonF(points))
    path.closeSubpath()
    return path


def _turn() -> QPainterPath:
    """Return an arrow that turns along the back, its head in front."""
    line = QPainterPath()
    ring = QRectF(-0.46, -0.3, 0.92, 0.92)
    line.arcMoveTo(ring, 165)
    line.arcTo(ring, 165, -105)
    at, way = line.pointAtPercent(1.0), -math.radians(line.angleAtPercent(1.0))
    along, across = (math.cos(way), math.sin(way)), (-math.sin(way), math.cos(way))
    tip = [
        QPointF(at.x() + a * along[0] + b * across[0], at.y() + a * along[1] + b * across[1])
        for a, b in ((-0.06, 0.21), (0.26, 0.0), (-0.06, -0.21))
    ]
    head = QPainterPath()
    head.addPolygon(QPolygonF(tip))
    head.closeSubpath()
    return _as_area(line, 0.15).united(head)


def _chevrons() -> QPainterPath:
    """Return two chevrons to the right."""
    path = QPainterPath()
    for x in (-0.3, 0.1):
        corners = ((-0.1, -0.3), (0.08, -0.3), (0.3, 0.0), (0.08, 0.3), (-0.1, 0.3), (0.12, 0.0))
        path.addPolygon(QPolygonF([QPointF(x + a, b) for a, b in corners]))
        path.closeSubpath()
    return path


def _unrest() -> QPainterPath:
    """Return lines of what shakes on either side of the mark."""
    lines = QPainterPath()
    for size in (1.06, 1.3):
        ring = QRectF(-size, -size * 0.72, 2 * size, size * 1.44)
        for start in (-28, 152):
            lines.arcMoveTo(ring, start)
            lines.arcTo(ring, start, 56)
    return lines


def _as_area(line: QPainterPath, width: float) -> QPainterPath:
    """Return what a line so wide covers."""
    pen = QPainterPathStroker()
    pen.setWidth(width * FINE)
    pen.setCapStyle(Qt.PenCapStyle.RoundCap)
    pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    pen.setCurveThreshold(0.5)
    return AS_GIVEN.map(pen.createStroke(TO_FINE.map(line)).simplified())


def _lines(*ends: tuple[float, float, float, float]) -> QPainterPath:
    path = QPainterPath()
    for x, y, to_x, to_y in ends:
        path.moveTo(x, y)
        path.lineTo(to_x, to_y)
    return path


def _rounded(*rects: tuple[float, float, float, float]) -> QPainterPath:
    path = QPainterPath()
    for rect in rects:
        path.addRoundedRect(QRectF(*rect), 0.05, 0.05)
    return path


class Edged(NamedTuple):
    """A shape, and the same with an edge around it to paint below."""

    shape: QPainterPath
    below: QPainterPath


def _edged(shape: QPainterPath) -> Edged:
    return Edged(shape, _as_area(shape, 2 * EDGED).united(shape))


def _edged_line(line: QPainterPath, width: float) -> Edged:
    return Edged(_as_area(line, width), _as_area(line, width + 2 * EDGED))


MARK = _mark()
OUTLINED = _edged_line(MARK, OUTLINE)
ARROW = _edged(_arrow())
TURN = _edged(_turn())
CHEVRONS = _edged(_chevrons())
UNREST = _edged_line(_unrest(), 0.11)
TICK = _as_area(_lines((-0.2, -0.1, -0.02, 0.06), (-0.02, 0.06, 0.34, -0.3)), 0.1)
PAUSE_BARS = _rounded((-0.21, -0.33, 0.13, 0.4), (0.05, -0.33, 0.13, 0.4))
HATCH = MARK.intersected(
    _as_area(_lines(*((x / 7, 1.0, x / 7 + 2.0, -1.0) for x in range(-21, 8))), 0.05)
)
CURTAIN = _rounded((-0.8, -0.6, 1.6, 1.2))
FOLDS = _as_area(_lines(*((x / 5, -0.5, x / 5, 0.52) for x in range(-3, 4))), 0.04)
ROD = _as_area(_lines((-0.95, -0.62, 0.95, -0.62)), 0.07)


@lru_cache
def nest_parts(n: int, width: float) -> tuple[QPainterPath, ...]:
    """Return the nest's line from behind to the front, so wide, in n parts."""
    line = _nest_line()
    length = (len(line) - 1) / n
    room = BETWEEN / STEP / 2 if n > 1 else 0.0
    parts = []
    for number in range(n):
        first = math.ceil(number * length + (room if number else 0))
        last = math.floor((number + 1) * length - (room if number < n - 1 else 0))
        path = QPainterPath(line[first])
        for point in line[first + 1 : last + 1]:
            path.lineTo(point)
        parts.append(_as_area(path, width))
    return tuple(parts)


@lru_cache
def _nest_line() -> tuple[QPointF, ...]:
    """Return points, a step apart, along the underside of the mark and a gap around it."""
    around = TO_FINE.map(_as_area(MARK, 2 * GAP).united(MARK))
    polygons = around.simplified().toSubpathPolygons()
    outline = max(polygons, key=lambda polygon: polygon.boundingRect().width())
    path = QPainterPath()
    path.addPolygon(AS_GIVEN.map(outline))
    length = path.length()
    points = [path.pointAtPercent(min(1.0, i * STEP / length)) for i in range(int(length / STEP))]
    behind, before = (min(range(len(points)), key=lambda i: _apart(points[i], lip)) for lip in LIPS)
    n = len(points)
    one_way = [points[(behind + i) % n] for i in range((before - behind) % n + 1)]
    other_way = [points[(behind - i) % n] for i in range((behind - before) % n + 1)]
    return tuple(max(one_way, other_way, key=lambda part: max(p.y() for p in part)))


def _apart(a: QPointF, b: QPointF) -> float:
    return math.hypot(a.x() - b.x(), a.y() - b.y())
