"""One row a channel: its limit to type, whether it is required, and what it can tell."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QEvent, QObject, QSignalBlocker, Qt, Signal
from PySide6.QtGui import QKeyEvent, QKeySequence
from PySide6.QtWidgets import (
    QButtonGroup,
    QComboBox,
    QDoubleSpinBox,
    QGridLayout,
    QLabel,
    QRadioButton,
    QWidget,
)

from posewatch.core.envelope import Unit
from posewatch.core.records import BODY_CHANNELS, Channel
from posewatch.ui.fitter_view import DEG_STEP, PLUS_MINUS, ChannelShown, noise_text, widest_of

HELD = ("required", "advisory")
MARK = "\N{BLACK UP-POINTING TRIANGLE}"


@dataclass(frozen=True, slots=True)
class _Row:
    name: QRadioButton
    limit: QDoubleSpinBox
    held: QComboBox
    words: QLabel


class LimitRows(QWidget):
    """The rows. Signals: chosen(channel), limit_typed(channel, size), held_set(channel, required).

    Sizes are in degrees or mm.
    """

    chosen = Signal(object)
    limit_typed = Signal(object, float)
    held_set = Signal(object, bool)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._shown: tuple[ChannelShown, ...] = ()
        self._group = QButtonGroup(self)
        self._rows = {channel: self._make_row(channel) for channel in BODY_CHANNELS}
        grid = QGridLayout(self)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(8)
        grid.setVerticalSpacing(1)
        grid.setColumnStretch(0, 1)
        for index, row in enumerate(self._rows.values()):
            grid.addWidget(row.name, 2 * index, 0)
            grid.addWidget(row.limit, 2 * index, 1)
            grid.addWidget(row.held, 2 * index, 2)
            grid.addWidget(row.words, 2 * index + 1, 0, 1, 3)
            grid.setRowStretch(2 * index + 1, 1)
        self._rows[BODY_CHANNELS[0]].name.setChecked(True)

    def _make_row(self, channel: Channel) -> _Row:
        name = QRadioButton(str(channel), self)
        name.setAccessibleName(f"show {channel}")
        self._group.addButton(name)
        limit = QDoubleSpinBox(self)
        limit.setDecimals(1)
        limit.setPrefix(PLUS_MINUS)
        limit.setKeyboardTracking(False)
        limit.setAccessibleName(f"limit of {channel}")
        limit.setMinimumWidth(104)
        held = QComboBox(self)
        held.addItems(HELD)
        held.setAccessibleName(f"{channel} required or advisory")
        words = QLabel(self)
        words.setWordWrap(True)
        words.setContentsMargins(22, 0, 0, 6)
        words.setAlignment(Qt.AlignmentFlag.AlignTop)
        name.toggled.connect(lambda on: self.chosen.emit(channel) if on else None)
        limit.valueChanged.connect(lambda size: self._type(channel, size))
        held.activated.connect(lambda index: self._hold(channel, index == 0))
        for widget in (limit, held):
            widget.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
            widget.installEventFilter(self)
        return _Row(name, limit, held, words)

    @property
    def channel(self) -> Channel:
        """The channel that is looked at."""
        return next(channel for channel, row in self._rows.items() if row.name.isChecked())

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Keep the wheel and the undo key from a limit.

        A wheel that passes over a limit must not set it, and its text has nothing to undo: the key
        is the window's.
        """
        passing = (
            event.type() is QEvent.Type.Wheel
            and isinstance(watched, QWidget)
            and not watched.hasFocus()
        )
        undo = (
            event.type() is QEvent.Type.ShortcutOverride
            and isinstance(event, QKeyEvent)
            and event.matches(QKeySequence.StandardKey.Undo)
        )
        if passing or undo:
            event.ignore()
            return True
        return super().eventFilter(watched, event)

    def choose(self, channel: Channel) -> None:
        """Look at a channel."""
        self._rows[channel].name.setChecked(True)

    def show_channels(self, shown: Sequence[ChannelShown]) -> None:
        """Show what a target's channels are held at; none = no target yet."""
        self._shown = tuple(shown)
        self.setEnabled(bool(shown))
        for one in shown:
            self._show_row(self._rows[one.channel], one)
        if not shown:
            for row in self._rows.values():
                row.words.setText("")

    def _show_row(self, row: _Row, one: ChannelShown) -> None:
        unit = Unit.DEG if one.step == DEG_STEP else Unit.MM
        with QSignalBlocker(row.limit), QSignalBlocker(row.held):
            row.limit.setRange(one.step, widest_of(unit))
            row.limit.setSingleStep(one.step)
            row.limit.setSuffix(one.unit)
            row.limit.setValue(one.tol)
            row.held.setCurrentIndex(0 if one.required else 1)
        words, name = noise_text(one), "faint"
        if one.too_tight:
            words, name = f"{MARK} Tighter than the noise: {one.too_tight}.\n{words}", "tight"
        row.words.setText(words)
        row.limit.setAccessibleDescription(words)
        if row.words.objectName() != name:
            row.words.setObjectName(name)
            row.words.style().unpolish(row.words)
            row.words.style().polish(row.words)

    def _type(self, channel: Channel, size: float) -> None:
        self.limit_typed.emit(channel, size)

    def _hold(self, channel: Channel, required: bool) -> None:
        self.held_set.emit(channel, required)
        # What was refused must not stay on the screen.
        self.show_channels(self._shown)
