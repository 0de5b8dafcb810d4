"""The operator's header: the state's word, clocks, counts, yield and where it is kept."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QHBoxLayout, QLabel, QSizePolicy, QVBoxLayout, QWidget

from posewatch.core.envelope import Target
from posewatch.studio import Doing
from posewatch.ui import operator_view
from posewatch.ui.channel_words import NOT_KNOWN
from posewatch.ui.operator_record import Record
from posewatch.ui.scene import Scene


class Figure(QWidget):
    """A large figure above a small word."""

    def __init__(self, name: str, large: str = "figure") -> None:
        super().__init__()
        self._large, self._small = QLabel(), QLabel()
        self._large.setObjectName(large)
        self._small.setObjectName("small")
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
        self._kept = QLabel()
        self._kept.setObjectName("small")
        self._kept.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        self._kept.setAccessibleName("session folder, target, and what the rider gets")
        line = QHBoxLayout(self)
        line.setContentsMargins(6, 2, 6, 2)
        line.setSpacing(10)
        # Shares of the width, so that nothing moves when a number gets longer.
        for part, share in (
            (self._state, 34),
            (self._clock, 13),
            (self._strokes, 22),
            (self._seconds, 11),
            (self._yield, 17),
            (self._cadence, 9),
            (self._kept, 24),
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
        self._cadence.show_texts(operator_view.cadence(now), "rpm")
        where = (session or "nothing recorded yet", _target_words(scene.target))
        self._kept.setText("\n".join((*where, operator_view.switch_words(scene.switches))))


def _target_words(target: Target | None) -> str:
    if target is None:
        return "no target"
    return f"target {target.rider} / {target.bike} / {target.hands} / v{target.version}"
