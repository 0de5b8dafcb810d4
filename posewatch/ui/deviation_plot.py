"""Deviations from the rider's own target over the crank circle, and the target's own curve.

The band's edges are dragged to set the limit. Curves are made once and only get new data: opaque
pens of width 1, no antialiasing, fixed ranges (anything else repaints many times slower).
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QColor, QFont
from PySide6.QtWidgets import QGraphicsRectItem, QVBoxLayout, QWidget

from posewatch.core.records import Channel, FloatArray
from posewatch.ui.fitter_view import CRANK_DEG, MEANINGS, PLUS_MINUS, ChannelShown
from posewatch.ui.stroke_traces import STROKES_SHOWN
from posewatch.ui.theme import DARK, PURPLE, Theme

TURN_TICKS = ((0, "0\N{DEGREE SIGN} top"), (90, "90\N{DEGREE SIGN} forward"),
              (180, "180\N{DEGREE SIGN} bottom"), (270, "270\N{DEGREE SIGN} back"),
              (360, ""))  # fmt: skip
#: Beside the turn: where stroke means stand, and the scatter of strokes.
MEANS_DEG, SCATTER_DEG = 384.0, 424.0
FIRST_DEG, LAST_DEG = -24.0, 446.0
#: Scatter is drawn as so many SDs to either side.
SCATTER_SD = 2.0
#: A curve's axis reaches so much further than its band.
MARGIN = 1.15
N_PARTS = 2
#: Room for the axis, in sizes of text.
AXIS_TEXTS = 3


def mixed(one: str, other: str, share: float) -> QColor:
    """Return a colour between two, share of the way to the other: opaque, where alpha is slow."""
    a, b = QColor(one), QColor(other)
    pairs = ((a.red(), b.red()), (a.green(), b.green()), (a.blue(), b.blue()))
    return QColor(*(round(x + share * (y - x)) for x, y in pairs))


class DeviationPlot(QWidget):
    """Shows one channel. ``limit_set``: an edge was dragged to this limit, in degrees or mm."""

    limit_set = Signal(float)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme, self._text_px = DARK, 0
        self._shown: ChannelShown | None = None
        self._upper, self._lower = _plot(), _plot()
        self._upper.setAccessibleName("Deviations over the crank circle")
        self._lower.setAccessibleName("The rider's own curve over the crank circle")
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(2)
        layout.addWidget(self._upper, 5)
        layout.addWidget(self._lower, 2)
        self._make_upper()
        self._make_lower()
        self.set_theme(DARK, 12)

    def _make_upper(self) -> None:
        upper = self._upper
        self._band = QGraphicsRectItem()
        upper.addItem(self._band, ignoreBounds=True)
        self._zero = pg.InfiniteLine(0.0, angle=0)
        self._inner = [pg.InfiniteLine(angle=0) for _ in range(2)]
        self._edges = [pg.InfiniteLine(angle=0, movable=True) for _ in range(2)]
        for line in (self._zero, *self._inner, *self._edges):
            upper.addItem(line, ignoreBounds=True)
        self._traces = [pg.PlotCurveItem() for _ in range(N_PARTS * STROKES_SHOWN)]
        self._others = [pg.PlotCurveItem() for _ in range(N_PARTS)]
        self._scatter = pg.PlotCurveItem(connect="pairs")
        self._means = pg.ScatterPlotItem(pxMode=True)
        for item in (*self._traces, *self._others, self._scatter, self._means):
            upper.addItem(item, ignoreBounds=True)
        self._label = pg.TextItem(anchor=(1.0, 1.0))
        upper.addItem(self._label, ignoreBounds=True)
        for edge in self._edges:
            edge.setCursor(Qt.CursorShape.SizeVerCursor)
            edge.sigDragged.connect(self._drag)
            edge.sigPositionChangeFinished.connect(self._drop)
        ticks = [*TURN_TICKS, (MEANS_DEG, "mean"), (SCATTER_DEG, "2 SD")]
        upper.getAxis("bottom").setTicks([ticks])

    def _make_lower(self) -> None:
        edges = [pg.PlotCurveItem() for _ in range(N_PARTS)]
        self._curve_band = pg.FillBetweenItem(*edges)
        self._curve_edges = edges
        self._curves = [pg.PlotCurveItem() for _ in range(N_PARTS)]
        for item in (self._curve_band, *edges, *self._curves):
            self._lower.addItem(item, ignoreBounds=True)
        self._lower.getAxis("bottom").setTicks([TURN_TICKS])

    def set_theme(self, theme: Theme, text_px: int) -> None:
        """Paint in a theme, at a size of text."""
        if (theme, text_px) == (self._theme, self._text_px):
            return
        self._theme, self._text_px = theme, text_px
        font = QFont()
        font.setPixelSize(text_px - 1)
        self._label.setFont(font)
        for plot in (self._upper, self._lower):
            plot.setBackground(theme.panel)
            for side in ("left", "bottom"):
                plot.getAxis(side).setPen(pg.mkPen(theme.line))
                plot.getAxis(side).setTextPen(pg.mkPen(theme.faint))
                plot.getAxis(side).setTickFont(font)
            plot.getAxis("left").setWidth(AXIS_TEXTS * text_px)
        band = mixed(theme.panel, theme.edge, 0.22)
        self._band.setBrush(band)
        self._band.setPen(pg.mkPen(None))
        self._curve_band.setBrush(band)
        self._zero.setPen(pg.mkPen(theme.faint))
        for line in self._inner:
            line.setPen(pg.mkPen(theme.edge, style=Qt.PenStyle.DotLine))
        for edge in self._edges:
            edge.setPen(pg.mkPen(mixed(theme.held, theme.text, 0.35)))
            edge.setHoverPen(pg.mkPen(theme.text))
        for curve in self._others:
            curve.setPen(pg.mkPen(PURPLE, style=Qt.PenStyle.DashDotLine))
        self._scatter.setPen(pg.mkPen(theme.text))
        self._label.setColor(theme.text)
        for curve in self._curve_edges:
            curve.setPen(pg.mkPen(mixed(theme.panel, theme.edge, 0.6)))
        self._pen_parts(self._curves, theme.text)
        for slot in range(STROKES_SHOWN):
            colour = mixed(theme.text, theme.panel, 0.85 * (1.0 - (slot + 1) / STROKES_SHOWN))
            self._pen_parts(self._traces[N_PARTS * slot : N_PARTS * (slot + 1)], colour)
        if self._shown is not None:
            self.show_channel(self._shown)

    def _pen_parts(self, curves: Sequence[pg.PlotCurveItem], colour: str | QColor) -> None:
        """Pen a curve's parts: the first one a line, the second one dashes."""
        styles = (Qt.PenStyle.SolidLine, Qt.PenStyle.DashLine)
        for curve, style in zip(curves, styles, strict=True):
            curve.setPen(pg.mkPen(colour, style=style))

    @property
    def limit(self) -> float:
        """Where the band's edges are now, in degrees or mm."""
        return abs(float(self._edges[0].value()))

    def show_channel(self, shown: ChannelShown) -> None:
        """Show a channel's limits and curve; strokes and other versions are told apart."""
        self._shown = shown
        reach = shown.reach
        self._upper.setYRange(-reach, reach, padding=0.0)
        for edge in self._edges:
            edge.setBounds((-reach, reach))
        self._place_limit(shown.tol)
        for line, side in zip(self._inner, (1.0, -1.0), strict=True):
            line.setValue(side * shown.inner)
        self._show_scatter(shown)
        name, unit = str(shown.channel), _axis_unit(shown)
        for plot, words in (
            (self._upper, f"{name}: deviation from this rider's own target,{unit}"),
            (self._lower, f"own curve: {name}, {MEANINGS[shown.channel]},{unit}"),
        ):
            plot.setTitle(words, size=f"{self._text_px}px", color=self._theme.text)
        self._show_curves(shown)

    def _show_scatter(self, shown: ChannelShown) -> None:
        """Draw the scatter of strokes as an upright bar with caps."""
        high, x = SCATTER_SD * shown.noise, SCATTER_DEG
        low = 0.0 if shown.channel is Channel.HAND_PLACE else -high
        cap = 6.0
        self._scatter.setData(
            np.array([x, x, x - cap, x + cap, x - cap, x + cap]),
            np.array([low, high, high, high, low, low]),
        )

    def _show_curves(self, shown: ChannelShown) -> None:
        for row, curve in enumerate(self._curves):
            has_row = row < len(shown.curves)
            curve.setData(*((CRANK_DEG, shown.curves[row]) if has_row else ([], [])))
        # A distance has no band about one of its parts.
        width = shown.tol if len(shown.curves) == 1 else 0.0
        for side, curve in zip((-1.0, 1.0), self._curve_edges, strict=True):
            curve.setData(CRANK_DEG, shown.curves[0] + side * width)
            curve.setVisible(width > 0)
        low, high = float(shown.curves.min()), float(shown.curves.max())
        half = MARGIN * ((high - low) / 2 + max(width, shown.noise))
        self._lower.setYRange((low + high) / 2 - half, (low + high) / 2 + half, padding=0.0)

    def show_strokes(
        self, strokes: Sequence[Sequence[tuple[FloatArray, FloatArray]]], means: Sequence[float]
    ) -> None:
        """Show the last strokes, the newest last: per stroke its parts, and each one's mean."""
        # The newest stroke always takes the last curves, whose pens tell its age.
        slots = [*[()] * (STROKES_SHOWN - len(strokes)), *strokes]
        for slot, parts in enumerate(slots):
            for row in range(N_PARTS):
                curve = self._traces[N_PARTS * slot + row]
                if row < len(parts):
                    # NaN leaves a gap where nothing was believed.
                    curve.setData(*parts[row], connect="finite")
                elif curve.xData is not None and len(curve.xData):
                    curve.setData([], [])
        self._show_means(means)

    def _show_means(self, means: Sequence[float]) -> None:
        theme, limit = self._theme, math.inf if self._shown is None else self._shown.tol
        spots = []
        for place, mean in enumerate(means):
            if math.isnan(mean):
                continue
            newest, off = place == len(means) - 1, abs(mean) > limit
            # A triangle points away from the band; a diamond is in it.
            symbol = ("t1" if mean > 0 else "t") if off else "d"
            colour = theme.off if off else mixed(theme.edge, theme.panel, 0.0 if newest else 0.45)
            pen = pg.mkPen(theme.text if newest else None)
            spots.append(
                {"pos": (MEANS_DEG, mean), "size": 14 if newest else 9, "symbol": symbol,
                 "brush": pg.mkBrush(colour), "pen": pen}
            )  # fmt: skip
        self._means.setData(spots)

    def show_other(self, curves: Sequence[FloatArray] | FloatArray) -> None:
        """Show another version's centre as deviations, (parts, 121); no row = none."""
        for row, curve in enumerate(self._others):
            curve.setData(*((CRANK_DEG, curves[row]) if row < len(curves) else ([], [])))

    def _place_limit(self, size: float) -> None:
        for edge, side in zip(self._edges, (1.0, -1.0), strict=True):
            edge.setValue(side * size)
        self._band.setRect(0.0, -size, 360.0, 2 * size)
        unit = "" if self._shown is None else self._shown.unit
        self._label.setText(f"{PLUS_MINUS}{size:.1f}{unit}")
        self._label.setPos(360.0, size)

    def _drag(self, edge: pg.InfiniteLine) -> None:
        if self._shown is None:
            return
        step = self._shown.step
        size = min(max(1, round(abs(edge.value()) / step)) * step, self._shown.reach)
        self._place_limit(size)

    def _drop(self, edge: pg.InfiniteLine) -> None:
        self.limit_set.emit(abs(float(edge.value())))


def _axis_unit(shown: ChannelShown) -> str:
    return " degrees" if shown.unit == "\N{DEGREE SIGN}" else shown.unit


def _plot() -> pg.PlotWidget:
    """Return an empty plot over one turn that nobody zooms or pans by accident."""
    plot = pg.PlotWidget()
    plot.setFocusPolicy(Qt.FocusPolicy.NoFocus)
    plot.setMenuEnabled(False)
    plot.hideButtons()
    plot.setMouseEnabled(x=False, y=False)
    plot.setAntialiasing(False)
    plot.setXRange(FIRST_DEG, LAST_DEG, padding=0.0)
    return plot
