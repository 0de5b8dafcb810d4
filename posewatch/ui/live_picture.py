"""The camera's picture with small crosses at the believed joints, to check the tracking by."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QLineF, QPointF, QRect, QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QImage, QPainter, QPaintEvent, QPen, QResizeEvent
from PySide6.QtWidgets import QWidget

from posewatch.runtime.engine import Shown
from posewatch.ui.theme import DARK, Theme

#: Half a cross's length.
ARM_PX = 5


class LivePicture(QWidget):
    """Shows the newest picture, in its own proportions, never mirrored.

    painted: is called at the end of the paint that shows a moment for the first time.
    """

    def __init__(self, painted: Callable[[Shown], None] = lambda shown: None) -> None:
        super().__init__()
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self.setMinimumSize(200, 150)
        self.setAccessibleName("live picture")
        self._painted = painted
        self._theme = DARK
        self._shown: Shown | None = None
        self._fresh = False
        self._scaled: QImage | None = None
        self._of: tuple[int, int] = (640, 480)
        self._curtain = self._veil = ""

    def show_moment(
        self, shown: Shown | None, curtain: str, veil: str, size_px: tuple[int, int], theme: Theme
    ) -> None:
        """Show a moment.

        curtain: stands in the picture's place; empty = the picture is shown. veil: is laid over a
        picture that is not of now. size_px: of the pictures, where only landmarks are read.
        """
        shown = None if curtain else shown
        changed = (curtain, veil, theme) != (self._curtain, self._veil, self._theme)
        if shown is self._shown and not changed:
            return
        if shown is not self._shown:
            self._fresh = shown is not None
            same = _picture_of(shown) is _picture_of(self._shown)
            self._scaled = self._scaled if same else None
        self._shown, self._theme, self._of = shown, theme, size_px
        if changed:
            self._curtain, self._veil = curtain, veil
            self.setAccessibleDescription(curtain or veil)
        self.update()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Scale anew."""
        self._scaled = None
        super().resizeEvent(event)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint picture and crosses, or the curtain."""
        painter = QPainter(self)
        painter.fillRect(self.rect(), QColor(self._theme.panel))
        if self._shown is None:
            self._paint_words(painter, self._curtain, QRectF(self.rect()), curtain=True)
        else:
            self._paint_shown(painter, self._shown)
        painter.end()
        if self._fresh and self._shown is not None:
            self._fresh = False
            self._painted(self._shown)

    def _paint_shown(self, painter: QPainter, shown: Shown) -> None:
        picture = shown.picture
        if picture is not None:
            high, wide = picture.rgb.shape[:2]
            self._of = (wide, high)
        place = letterbox(self._of, self.rect())
        if picture is None:
            painter.fillRect(place, QColor(self._theme.ground))
            words = "no picture: landmarks only"
            painter.setPen(QColor(self._theme.faint))
            corner = place.adjusted(10, 8, -10, -8)
            painter.drawText(corner, Qt.AlignmentFlag.AlignTop | Qt.AlignmentFlag.AlignLeft, words)
        else:
            painter.drawImage(place.topLeft(), self._scale(shown, place))
        if not self._veil:
            self._paint_crosses(painter, shown, place)
            return
        shade = QColor(self._theme.ground)
        shade.setAlpha(170)
        painter.fillRect(place, shade)
        self._paint_words(painter, self._veil, QRectF(place), curtain=False)

    def _scale(self, shown: Shown, place: QRect) -> QImage:
        """Return the picture in the size in which it is shown; the same one is scaled once."""
        assert shown.picture is not None
        ratio = self.devicePixelRatioF()
        if self._scaled is None:
            rgb = shown.picture.rgb
            high, wide = rgb.shape[:2]
            # The image does not own its bytes; it lives only here, while the moment does.
            whole = QImage(rgb.data, wide, high, 3 * wide, QImage.Format.Format_RGB888)
            self._scaled = whole.scaled(
                round(place.width() * ratio),
                round(place.height() * ratio),
                Qt.AspectRatioMode.IgnoreAspectRatio,
                Qt.TransformationMode.SmoothTransformation,
            ).convertToFormat(QImage.Format.Format_RGB32)
            self._scaled.setDevicePixelRatio(ratio)
        return self._scaled

    def _paint_crosses(self, painter: QPainter, shown: Shown, place: QRect) -> None:
        wide, high = self._of
        lines = []
        for x_px, y_px in shown.crosses_px.tolist():
            at = QPointF(
                place.x() + x_px * place.width() / wide, place.y() + y_px * place.height() / high
            )
            lines.append(QLineF(at.x() - ARM_PX, at.y(), at.x() + ARM_PX, at.y()))
            lines.append(QLineF(at.x(), at.y() - ARM_PX, at.x(), at.y() + ARM_PX))
        for colour, width in ((DARK.ground, 3), (DARK.text, 1)):
            painter.setPen(QPen(QColor(colour), width))
            painter.drawLines(lines)

    def _paint_words(self, painter: QPainter, words: str, box: QRectF, curtain: bool) -> None:
        if curtain:
            painter.fillRect(box, QColor(self._theme.ground))
            painter.fillRect(box, _folds(self._theme))
        font = painter.font()
        font.setPixelSize(max(13, round(box.height() / 20)))
        painter.setFont(font)
        inside = box.adjusted(0.1 * box.width(), 0, -0.1 * box.width(), 0)
        flags = Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextWordWrap
        around = painter.boundingRect(inside, int(flags), words).adjusted(-12, -8, 12, 8)
        painter.fillRect(around, QColor(self._theme.panel))
        painter.setPen(QColor(self._theme.text))
        painter.drawText(inside, int(flags), words)


def _picture_of(shown: Shown | None) -> object:
    return None if shown is None else shown.picture


def _folds(theme: Theme) -> QBrush:
    """Return the curtain's upright folds."""
    return QBrush(QColor(theme.line), Qt.BrushStyle.VerPattern)


def letterbox(size_px: tuple[int, int], box: QRect) -> QRect:
    """Return the largest place of a picture's proportions in the middle of a box."""
    wide, high = size_px
    scale = min(box.width() / wide, box.height() / high)
    width, height = max(1, round(wide * scale)), max(1, round(high * scale))
    left = box.x() + (box.width() - width) // 2
    top = box.y() + (box.height() - height) // 2
    return QRect(left, top, width, height)
