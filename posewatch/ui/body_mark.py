"""The body mark and its nest: where the rider is beside where he should be.

The mark is a rounded body seen from the side, seat behind and hands in front; the nest is the
hollow that it fits. It says one thing at a time.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPainterPath, QPaintEvent, QTransform
from PySide6.QtWidgets import QWidget

from posewatch.ui import mark_shapes as shapes
from posewatch.ui.big_text import paint_text
from posewatch.ui.rider_view import Face, Kind, RiderView
from posewatch.ui.theme import DARK, Theme
from posewatch.ui.ways import Part, Way

#: Shares of the widget's height: the mark's own, and how far it goes from the nest.
HEIGHT, UP_REACH, ALONG_REACH = 0.6, 0.17, 0.34
TILT_REACH_DEG = 24.0
#: How wide the nest is, and how far beside it there is room for the mark, in heights of the mark.
WIDTH, BESIDE = 2.0, 0.25

#: Where on the mark a correction points, in heights of the mark from its middle, y down.
PLACES = {
    Part.BACK: (0.02, -0.14),
    Part.SEAT: (-0.44, 0.06),
    Part.HANDS: (0.66, 0.06),
    Part.FOOT: (-0.42, 0.2),
    Part.EFFORT: (0.0, 0.0),
}
#: By how much an arrow to the right is turned to point along, up.
TURNED_DEG = {(1, 0): 0.0, (-1, 0): 180.0, (0, -1): 90.0, (0, 1): -90.0}
#: Around what is orange, so that it stands out from light and dark.
EDGE = DARK.ground


class BodyMark(QWidget):
    """Paints mark, nest and arrow of a :class:`RiderView`; repaints only what has changed."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self._view = RiderView(Face(Kind.CURTAIN, ""))
        self._theme = DARK
        self._shown: object = None

    def show_view(self, view: RiderView, theme: Theme) -> None:
        """Take over what is shown now."""
        shown = (
            (view.face, view.along, view.up, view.tilt, view.faces),
            (view.lit, view.needed, view.seconds, theme),
        )
        if shown == self._shown:
            return
        self._view, self._theme, self._shown = view, theme, shown
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.fillRect(event.rect(), QColor(self._theme.ground))
        unit = min(HEIGHT * self.height(), self.width() / (WIDTH + 2 * BESIDE))
        along = min(ALONG_REACH / HEIGHT, (self.width() / unit - WIDTH) / 2)
        painter.translate(self.width() / 2, self.height() / 2)
        painter.scale(unit, unit)
        _Picture(painter, self._view, self._theme, along).paint()
        painter.end()


class _Picture:
    """One painting, in heights of the mark from the nest's middle, y down."""

    def __init__(self, painter: QPainter, view: RiderView, theme: Theme, along: float) -> None:
        self._painter, self._view, self._theme = painter, view, theme
        self._along = along
        self._kind, self._way = view.face.kind, view.face.way

    def paint(self) -> None:
        if self._kind is Kind.CURTAIN:
            self._curtain()
            return
        # Everything but digits and ticks is seen in the direction of travel.
        self._mirrored(self._nest)
        if self._view.seconds is not None:
            self._seconds(self._view.seconds)
            return
        self._mirrored(self._mark)
        if self._kind is Kind.REST:
            self._fill(shapes.PAUSE_BARS, self._theme.faint)
        elif self._kind is Kind.REACHED:
            self._fill(shapes.TICK, self._theme.ground)
        elif self._way is not None:
            self._mirrored(partial(self._correction, self._way))

    def _mirrored(self, paint: Callable[[], None]) -> None:
        self._painter.save()
        self._painter.scale(self._view.faces, 1.0)
        paint()
        self._painter.restore()

    def _nest(self) -> None:
        lit, needed = self._view.lit, self._view.needed
        if lit >= needed:
            lit = needed = 1
        for part in shapes.nest_parts(needed, shapes.NEST)[:lit]:
            self._fill(part, self._theme.counted)
        for part in shapes.nest_parts(needed, shapes.NEST_FAINT)[lit:]:
            self._fill(part, self._theme.unknown)

    def _mark(self) -> None:
        view, theme = self._view, self._theme
        placed = self._placed()
        path, outline = placed.map(shapes.MARK), placed.map(shapes.OUTLINED.shape)
        if view.face.hatched:
            self._fill(path, theme.panel)
            self._fill(placed.map(shapes.HATCH), theme.unknown)
            self._fill(outline, theme.faint)
        elif self._kind is Kind.REACHED:
            self._fill(path, theme.counted)
        elif self._kind in (Kind.READY, Kind.REST, Kind.WAIT, Kind.RESET):
            self._fill(path, theme.panel)
            self._fill(outline, theme.unknown)
        else:
            rests = self._kind is Kind.QUIET and self._way is None
            is_off = self._way is not None and self._way.part is not Part.EFFORT
            self._fill(path, theme.held if rests else theme.panel)
            if is_off:
                self._fill(placed.map(shapes.OUTLINED.below), EDGE)
            self._fill(outline, theme.off if is_off else theme.counted)

    def _placed(self) -> QTransform:
        view = self._view
        placed = QTransform()
        placed.translate(view.along * self._along, -view.up * UP_REACH / HEIGHT)
        placed.rotate(view.tilt * TILT_REACH_DEG)
        return placed

    def _correction(self, way: Way) -> None:
        placed = self._placed()
        if way.part is Part.EFFORT:
            put, edged = QTransform.fromScale(way.along, 1.0), shapes.CHEVRONS
        elif way.tilt:
            put, edged = QTransform.fromScale(way.tilt, 1.0) * placed, shapes.TURN
        elif way.along or way.up:
            at = placed.map(QPointF(*PLACES[way.part]))
            put, edged = QTransform.fromTranslate(at.x(), at.y()), shapes.ARROW
            put.rotate(TURNED_DEG[way.along, way.up])
        else:
            put, edged = QTransform(), shapes.UNREST
        self._fill(put.map(edged.below), EDGE)
        self._fill(put.map(edged.shape), self._theme.off)

    def _seconds(self, seconds: int) -> None:
        digits = QRectF(-0.8, -0.58, 1.6, 0.68)
        paint_text(self._painter, digits, str(seconds), self._theme.text, ("00",))

    def _curtain(self) -> None:
        self._fill(shapes.CURTAIN, self._theme.panel)
        self._fill(shapes.FOLDS, self._theme.line)
        self._fill(shapes.ROD, self._theme.unknown)

    def _fill(self, path: QPainterPath, colour: str) -> None:
        self._painter.fillPath(path, QColor(colour))
