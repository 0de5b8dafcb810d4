"""The weave's shapes: cells, what became of a stroke, and cuts. Each is told by shape alone."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import isnan

from PySide6.QtCore import QPoint, QRect, Qt
from PySide6.QtGui import QBrush, QColor, QPainter, QPen, QPolygon

from posewatch.ui.theme import Theme
from posewatch.ui.weave_view import REACH, Cell, Cut, Fate, Shade


@dataclass(frozen=True, slots=True)
class Threads:
    """Colours of one theme, for required and for advisory rows."""

    ground: QColor
    inside: QColor
    edge: QColor
    off: QColor
    unknown: QColor
    tick: QColor
    counted: QColor
    faint: QColor


@lru_cache
def threads(theme: Theme, required: bool) -> Threads:
    """Return the colours; those of advisory rows are fainter."""
    strong = 1.0 if required else 0.45
    return Threads(
        QColor(theme.panel),
        mixed(theme.held, theme.panel, 0.55 * strong),
        mixed(theme.edge, theme.panel, 0.75 * strong),
        mixed(theme.off, theme.panel, strong),
        mixed(theme.unknown, theme.panel, 0.9 * strong),
        mixed(theme.text, theme.panel, 0.4 + 0.6 * strong),
        QColor(theme.counted),
        mixed(theme.faint, theme.panel, 0.8),
    )


def mixed(colour: str, ground: str, share: float) -> QColor:
    """Return that share of a colour on a ground, opaque."""
    a, b = QColor(colour), QColor(ground)
    parts = zip((a.red(), a.green(), a.blue()), (b.red(), b.green(), b.blue()), strict=True)
    return QColor(*(round(share * x + (1.0 - share) * y) for x, y in parts))


def paint_cell(painter: QPainter, box: QRect, cell: Cell, colours: Threads, px: int) -> None:
    """Paint one channel of one stroke. px: device pixels to one of the screen's own.

    Inside and edge fill the cell, a tick stands at the mean; outside is a bar from the centre to
    the mean and beyond the limit's line; unknown is an empty hatched cell.
    """
    if cell.shade is Shade.UNKNOWN or isnan(cell.place):
        painter.fillRect(box, QBrush(colours.unknown, Qt.BrushStyle.BDiagPattern))
        return
    half = box.height() / 2
    middle = box.y() + half
    at = round(middle - cell.place * (half - px))
    if cell.shade in (Shade.INSIDE, Shade.EDGE):
        is_edge = cell.shade is Shade.EDGE
        painter.fillRect(box, colours.edge if is_edge else colours.inside)
        thick = (4 if is_edge else 2) * px
        painter.fillRect(QRect(box.x(), at - thick // 2, box.width(), thick), colours.tick)
        return
    painter.setPen(QPen(colours.off, px))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.drawRect(box.adjusted(0, 0, -1, -1))
    if cell.shade is Shade.RESTLESS:
        reach = round(half * 0.6)
        for end in (-reach, reach):
            top = round(middle) + end - px
            painter.fillRect(QRect(box.x(), top, box.width(), 3 * px), colours.off)
        painter.fillRect(QRect(box.center().x(), round(middle) - reach, px, 2 * reach), colours.off)
        return
    top, bottom = sorted((at, round(middle)))
    painter.fillRect(QRect(box.x(), top, box.width(), max(2 * px, bottom - top)), colours.off)
    limit = round(middle - (half - px) / REACH * (1 if cell.place > 0 else -1))
    if top < limit < bottom:
        painter.fillRect(QRect(box.x(), limit, box.width(), px), colours.ground)


def paint_fate(painter: QPainter, box: QRect, fate: Fate, colours: Threads, px: int) -> None:
    """Paint what became of a stroke."""
    painter.setBrush(Qt.BrushStyle.NoBrush)
    if fate is Fate.COUNTED:
        painter.fillRect(box, colours.counted)
    elif fate in (Fate.PENDING, Fate.SHORT):
        height = box.height() if fate is Fate.PENDING else box.height() // 2
        colour = colours.counted if fate is Fate.PENDING else colours.faint
        painter.setPen(QPen(colour, px))
        painter.drawRect(QRect(box.x(), box.bottom() - height + 1, box.width() - 1, height - 1))
    elif fate is Fate.STEADYING:
        side = min(box.width(), box.height() // 3)
        left = box.x() + (box.width() - side) // 2
        painter.fillRect(QRect(left, box.bottom() - side + 1, side, side), colours.counted)
    elif fate is Fate.DRIFT:
        painter.setPen(QPen(colours.off, 2 * px))
        tip = QPoint(box.center().x(), box.bottom() - px)
        painter.drawLine(QPoint(box.x() + px, box.center().y()), tip)
        painter.drawLine(tip, QPoint(box.right() - px, box.center().y()))
    else:
        painter.fillRect(QRect(box.x(), box.bottom() - 2 * px, box.width(), 2 * px), colours.faint)


def paint_cut(
    painter: QPainter, box: QRect, fates: QRect, cut: Cut, colours: Threads, px: int
) -> None:
    """Paint where the weave is cut; a lost hold has a wedge below."""
    x = box.center().x()
    pen = QPen(colours.off if cut.lost else colours.faint, px)
    pen.setStyle(Qt.PenStyle.DashLine)
    painter.setPen(pen)
    painter.drawLine(x, box.y(), x, box.bottom())
    if cut.lost:
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(colours.off)
        tip = QPoint(x, fates.y() + min(fates.height(), 2 * fates.width()))
        painter.drawPolygon(QPolygon([fates.topLeft(), fates.topRight(), tip]))
