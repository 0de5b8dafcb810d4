"""Paints the weave. Only new columns, and those whose fate changed, are painted anew."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QRect, Qt
from PySide6.QtGui import QColor, QFont, QPainter, QPaintEvent, QPixmap, QResizeEvent
from PySide6.QtWidgets import QWidget

from posewatch.ui.theme import DARK, Theme
from posewatch.ui.weave_marks import paint_cell, paint_cut, paint_fate, threads
from posewatch.ui.weave_view import KEPT, Column, Cut, Fate, Row, WeaveView

#: How many columns are wanted; whole device pixels a column make it some more or less.
COLUMNS = 75
#: Heights: of an advisory row, and of the row of fates, in required rows.
ADVISORY_HIGH, FATES_HIGH = 0.55, 0.7
GAP_PX = 3
LEGEND = (
    (Fate.COUNTED, "counted"),
    (Fate.PENDING, "pending"),
    (Fate.SHORT, "run too short"),
    (Fate.STEADYING, "steadying"),
    (Fate.DRIFT, "brief drift"),
    (Fate.NOT, "not counted"),
)
TICKS = "tick above the middle: higher, further forward, more bent or open, faster"
EMPTY = "no stroke yet: each will be a column here, the newest on the right"


class Weave(QWidget):
    """Shows a weave and, beside it, what each channel is now."""

    def __init__(self) -> None:
        super().__init__()
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self.setMinimumSize(320, 180)
        self.setAccessibleName("weave of strokes and channels")
        self.setToolTip(TICKS)
        self._theme = DARK
        self._view: WeaveView | None = None
        self._live: tuple[str, ...] = ()
        self._cloth = QPixmap()
        self._painted: WeaveView | None = None

    def show_view(self, view: WeaveView | None, theme: Theme) -> None:
        """Show the weave; None = there was no watch yet."""
        if view is self._view and theme is self._theme:
            return
        if theme is not self._theme:
            self._painted = None
        self._view, self._theme = view, theme
        self.update()

    def show_live(self, live: tuple[str, ...]) -> None:
        """Show what each row's channel is now."""
        if live != self._live:
            self._live = live
            self.update(self._beside())

    @property
    def n_visible(self) -> int:
        """How many columns there is room for."""
        return min(KEPT, self._device(self._cloth_box()).width() // self._column_px())

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Paint all of it anew."""
        self._painted = None
        super().resizeEvent(event)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Bring the cloth up to date and put it beside its labels."""
        painter = QPainter(self)
        painter.fillRect(event.rect(), QColor(self._theme.panel))
        view = self._view
        if view is None or not view.rows:
            painter.setPen(QColor(self._theme.faint))
            painter.drawText(self.rect(), Qt.AlignmentFlag.AlignCenter, EMPTY)
            painter.end()
            return
        if event.rect().intersects(self._cloth_box()):
            self._weave(view)
            painter.drawPixmap(self._cloth_box().topLeft(), self._cloth)
        self._paint_beside(painter, view.rows)
        painter.end()

    def _weave(self, view: WeaveView) -> None:
        """Paint what is new since the last time."""
        device = self._device(self._cloth_box())
        before = self._painted
        self._painted = view
        if before is view:
            return
        n_new = 0 if before is None else view.n_columns - before.n_columns
        whole = (
            before is None
            or before.rows is not view.rows
            or not 0 <= n_new < self.n_visible
            or self._cloth.size() != device.size()
        )
        # Painted in whole device pixels, whatever the screen's scale.
        if whole:
            self._cloth = QPixmap(device.size())
        self._cloth.setDevicePixelRatio(1.0)
        step = self._column_px()
        if whole:
            self._cloth.fill(QColor(self._theme.panel))
        elif n_new:
            self._cloth.scroll(-n_new * step, 0, self._cloth.rect())
        painter = QPainter(self._cloth)
        rows = self._rows(view.rows, device.height())
        if whole:
            for top, high in rows[:-1]:
                painter.fillRect(QRect(0, top, device.width(), high), QColor(self._theme.ground))
        old = () if whole or before is None else before.columns
        for place in range(min(self.n_visible, len(view.columns))):
            column = view.columns[-1 - place]
            index = place - n_new
            if 0 <= index < len(old) and old[-1 - index] is column:
                continue
            box = QRect(device.width() - (place + 1) * step, 0, step, device.height())
            self._paint_column(painter, box, column, view.rows, rows)
        # What was scrolled beyond the last whole column.
        rest = device.width() - self.n_visible * step
        if len(view.columns) >= self.n_visible:
            painter.fillRect(QRect(0, 0, rest, device.height()), QColor(self._theme.panel))
        painter.end()
        self._cloth.setDevicePixelRatio(self.devicePixelRatioF())

    def _paint_column(
        self,
        painter: QPainter,
        box: QRect,
        column: Column | Cut,
        rows: Sequence[Row],
        places: list[tuple[int, int]],
    ) -> None:
        px = self._px()
        strong = threads(self._theme, True)
        painter.fillRect(box, strong.ground)
        inside = box.adjusted(0, 0, -px, 0)
        top, high = places[-1]
        fates = QRect(inside.x(), top, inside.width(), high)
        if isinstance(column, Cut):
            paint_cut(painter, box, fates, column, strong, px)
            return
        for row, cell, (top, high) in zip(rows, column.cells, places, strict=False):
            place = QRect(inside.x(), top, inside.width(), high)
            paint_cell(painter, place, cell, threads(self._theme, row.required), px)
        paint_fate(painter, fates, column.fate, strong, px)

    def _paint_beside(self, painter: QPainter, rows: Sequence[Row]) -> None:
        box = self._cloth_box()
        places = self._rows(rows, box.height())
        small = self._small()
        right = self.width() - box.right() - 10
        for row, live, (top, high) in zip(rows, self._live, places, strict=False):
            self._paint_live(painter, row, live, QRect(box.right() + 8, box.y() + top, right, high))
        for row, (top, high) in zip(rows, places, strict=False):
            self._paint_label(painter, row, QRect(8, box.y() + top, box.x() - 16, high), small)
        top, high = places[-1]
        painter.setFont(self.font())
        painter.setPen(QColor(self._theme.text))
        label = QRect(8, box.y() + top, box.x() - 16, high)
        painter.drawText(
            label, Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, "stroke"
        )
        self._paint_legend(painter)

    def _paint_label(self, painter: QPainter, row: Row, box: QRect, small: QFont) -> None:
        """Write a channel's name above its limit, in a low row the name alone."""
        above = self.fontMetrics().height()
        limit = row.limit if row.required else f"{row.limit} advice"
        left = Qt.AlignmentFlag.AlignLeft
        painter.setFont(self.font())
        painter.setPen(QColor(self._theme.text if row.required else self._theme.faint))
        if box.height() < 1.8 * above:
            painter.drawText(box, left | Qt.AlignmentFlag.AlignVCenter, str(row.channel))
            return
        half = box.height() // 2
        name, rest = box.adjusted(0, 0, 0, half - box.height()), box.adjusted(0, half, 0, 0)
        painter.drawText(name, left | Qt.AlignmentFlag.AlignBottom, str(row.channel))
        painter.setFont(small)
        painter.setPen(QColor(self._theme.faint))
        painter.drawText(rest, left | Qt.AlignmentFlag.AlignTop, limit)

    def _paint_live(self, painter: QPainter, row: Row, live: str, box: QRect) -> None:
        font = QFont(self.font())
        if row.required:
            font.setPixelSize(round(1.3 * self._size()))
            font.setWeight(QFont.Weight.DemiBold)
        number, space, unit = live.partition(" ")
        colour = self._theme.text if row.required else self._theme.faint
        for written_in, words in ((font, number + space), (self._small(), unit)):
            painter.setFont(written_in)
            painter.setPen(QColor(colour))
            painter.drawText(box, Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, words)
            box = box.adjusted(painter.fontMetrics().horizontalAdvance(words), 0, 0, 0)
            colour = self._theme.faint

    def _paint_legend(self, painter: QPainter) -> None:
        box = self._cloth_box()
        painter.setFont(self._small())
        metrics = painter.fontMetrics()
        x, high = box.x(), metrics.ascent()
        top = self.height() - metrics.height() - 2
        strong = threads(self._theme, True)
        for fate, word in LEGEND:
            paint_fate(painter, QRect(x, top + 1, round(0.6 * high), high), fate, strong, 1)
            painter.setPen(QColor(self._theme.faint))
            painter.drawText(x + high, top + metrics.ascent(), word)
            x += high + metrics.horizontalAdvance(word) + 14
        if x + metrics.horizontalAdvance(TICKS) < self.width():
            painter.drawText(x, top + metrics.ascent(), TICKS)

    def _rows(self, rows: Sequence[Row], height: int) -> list[tuple[int, int]]:
        """Return top and height of each row, and of the row of fates."""
        shares = [1.0 if row.required else ADVISORY_HIGH for row in rows] + [FATES_HIGH]
        gap = round(GAP_PX * height / max(1, self._cloth_box().height()))
        unit = (height - gap * len(rows)) / sum(shares)
        places, top = [], 0.0
        for share in shares:
            places.append((round(top), max(1, round(top + share * unit) - round(top))))
            top += share * unit + gap
        return places

    def _cloth_box(self) -> QRect:
        size = self._size()
        left, right, below = round(8.5 * size), round(5.6 * size), round(1.7 * size)
        return QRect(left, 6, self.width() - left - right, self.height() - below - 10)

    def _beside(self) -> QRect:
        box = self._cloth_box()
        return QRect(box.right() + 1, 0, self.width() - box.right() - 1, self.height())

    def _device(self, box: QRect) -> QRect:
        ratio = self.devicePixelRatioF()
        return QRect(0, 0, round(box.width() * ratio), round(box.height() * ratio))

    def _column_px(self) -> int:
        """Return a column's width in device pixels."""
        return max(4, round(self._device(self._cloth_box()).width() / COLUMNS))

    def _px(self) -> int:
        return max(1, round(self.devicePixelRatioF()))

    def _size(self) -> int:
        return self.fontInfo().pixelSize()

    def _small(self) -> QFont:
        font = QFont(self.font())
        font.setPixelSize(max(10, round(0.85 * self._size())))
        return font
