"""The operator's header: the state's word, clocks, counts, yield and where it is kept."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QPainter, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QSizePolicy, QVBoxLayout, QWidget

from posewatch.core.envelope import Target
from posewatch.studio import Doing
from posewatch.ui import operator_view
from posewatch.ui.channel_words import NOT_KNOWN
from posewatch.ui.operator_record import Record
from posewatch.ui.scene import Scene


class Fitted(QLabel):
    """One line whose letters shrink where they would be cut off."""

    @property
    def share(self) -> float:
        """How large letters are, of those of the style."""
        wide = self.fontMetrics().horizontalAdvance(self.text())
        return min(1.0, self.width() / max(1, wide))

    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint the line."""
        if self.share == 1.0:
            super().paintEvent(event)
            return
        painter = QPainter(self)
        font = painter.font()
        font.setPixelSize(int(self.share * self.fontInfo().pixelSize()))
        painter.setFont(font)
        painter.setPen(self.palette().windowText().color())
        painter.drawText(self.rect(), self.alignment(), self.text())
        painter.end()


class Figure(QWidget):
    """A large figure above a small word."""

    def __init__(self, name: str, large: str = "figure") -> None:
        super().__init__()
        self._large, self._small = Fitted(), Fitted()
        self._large.setObjectName(large)
        self._small.setObjectName("under")
        self.setAccessibleName(name)
        rows = QVBoxLayout(self)
        rows.setContentsMargins(0, 0, 0, 0)
        rows.setSpacing(0)
        rows.addWidget(self._large)
        rows.addWidget(self._small)

    def show_texts(self, large: str, small: str) -> None:
        """Show both."""
        if (large, small) != (self._large.text(), self._small.text()):
            self._large.setText(large)
            self._small.setText(small)
            self.setAccessibleDescription(f"{large} {small}")


class Lines(QLabel):
    """Small lines on the right; what has no room is left out in the middle."""

    def __init__(self, name: str) -> None:
        super().__init__()
        self._lines: tuple[str, ...] = ()
        self.setObjectName("small")
        self.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        self.setAccessibleName(name)

    def show_lines(self, lines: tuple[str, ...]) -> None:
        """Show lines."""
        if lines != self._lines:
            self._lines = lines
            self.setAccessibleDescription("; ".join(lines))
            self.setToolTip("\n".join(lines))
            self._fit()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Fit them in anew."""
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        middle, metrics = Qt.TextElideMode.ElideMiddle, self.fontMetrics()
        fitted = (metrics.elidedText(line, middle, self.width()) for line in self._lines)
        self.setText("\n".join(fitted))


class OperatorHeader(QWidget):
    """Shows how a watch stands, in large."""

    def __init__(self) -> None:
        super().__init__()
        self._state = Figure("state", "state")
        self._clock = Figure("trial clock")
        self._strokes = Figure("strokes counted")
        self._seconds = Figure("seconds counted")
        self._yield = Figure("yield")
        self._cadence = Figure("cadence")
        self._power = Figure("power")
        self._kept = Lines("session folder, target, and what the rider gets")
        line = QHBoxLayout(self)
        line.setContentsMargins(6, 2, 6, 2)
        line.setSpacing(10)
        # Shares of the width, so that nothing moves when a number gets longer.
        for part, share in (
            (self._state, 31),
            (self._clock, 11),
            (self._strokes, 19),
            (self._seconds, 10),
            (self._yield, 16),
            (self._cadence, 10),
            (self._power, 16),
            (self._kept, 23),
        ):
            part.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
            line.addWidget(part, share)

    def show_record(self, record: Record, scene: Scene, session: str) -> None:
        """Show a scene. session: name of the folder that it is kept in."""
        in_state_ns = scene.monotonic_ns - record.state_ns
        self._state.show_texts(record.state, f"for {operator_view.clock(in_state_ns)}")
        watched = record.begun_ns > 0
        self._clock.show_texts(
            operator_view.clock(record.elapsed_ns) if watched else NOT_KNOWN,
            "trial" if record.doing is Doing.WATCH or not watched else "last trial, ended",
        )
        stands = record.standing
        self._strokes.show_texts(*operator_view.counts(stands))
        self._seconds.show_texts(operator_view.seconds(stands), "counted")
        self._yield.show_texts(*operator_view.yield_text(record.yielded))
        now = stands if record.doing is Doing.WATCH else None
        self._cadence.show_texts(*operator_view.cadence(now, scene.plan))
        power = operator_view.power(record.power, scene.plan, scene.sensors)
        self._power.setVisible(power is not None)
        self._power.show_texts(*(power or ("", "")))
        where = (session or "nothing recorded yet", _target_words(scene.target))
        lines = (*where, scene.video, operator_view.switch_words(scene.switches))
        self._kept.show_lines(tuple(filter(None, lines)))


def _target_words(target: Target | None) -> str:
    if target is None:
        return "no target"
    return f"target {target.rider} / {target.bike} / {target.hands} / v{target.version}"
