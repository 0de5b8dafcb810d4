"""Whose position it is, what it is captured from, and how far a capture has come."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from PySide6.QtCore import QSignalBlocker, Qt, Signal
from PySide6.QtWidgets import (
    QComboBox,
    QFormLayout,
    QGroupBox,
    QHBoxLayout,
    QLabel,
    QProgressBar,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from posewatch.core.capture import MIN_STROKES_A_SIT
from posewatch.core.envelope import SITS_WANTED
from posewatch.store.target_shelf import SavedTarget
from posewatch.ui.capture_view import NO_SITS, SitCell
from posewatch.ui.deviation_plot import mixed
from posewatch.ui.keys import Act, first_key
from posewatch.ui.theme import DARK, Theme

WHOSE = ("rider", "bike", "hands")


class CapturePanel(QGroupBox):
    """Signals: started, ended, recording_wanted, camera_wanted, open_wanted(name)."""

    started = Signal()
    ended = Signal()
    recording_wanted = Signal()
    camera_wanted = Signal()
    open_wanted = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__("Whose position", parent)
        self._shelf: tuple[SavedTarget, ...] = ()
        self._whose = {what: self._make_combo(what) for what in WHOSE}
        self._version = QComboBox()
        self._version.setAccessibleName("saved version")
        self._open = QPushButton("&Open")
        self._open.setAccessibleName("open the saved version")
        self._from = QLabel()
        self._from.setWordWrap(True)
        self._pick = QPushButton("&Recording or clip\N{HORIZONTAL ELLIPSIS}")
        self._camera = QPushButton("C&amera")
        self._camera.setAccessibleName("capture from the camera")
        self._start = QPushButton("&Start the capture")
        self._start.setObjectName("main")
        self._end = QPushButton(f"End the capture ({first_key(Act.END)})")
        self._end.setObjectName("main")
        # It exists while somebody rides: no key that a hand may lean on presses it.
        self._end.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._bars = [QProgressBar() for _ in range(SITS_WANTED)]
        self._lay_out()
        self._open.clicked.connect(lambda: self.open_wanted.emit(self._version.currentData()))
        self._pick.clicked.connect(self.recording_wanted)
        self._camera.clicked.connect(self.camera_wanted)
        self._start.clicked.connect(self.started)
        self._end.clicked.connect(self.ended)
        self.show_count(NO_SITS, DARK)
        self.show_state(is_capturing=False, has_source=False)

    def _make_combo(self, what: str) -> QComboBox:
        combo = QComboBox()
        combo.setEditable(True)
        combo.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
        combo.setAccessibleName(what)
        combo.currentTextChanged.connect(self._show_versions)
        return combo

    def _lay_out(self) -> None:
        form = QFormLayout()
        form.setFieldGrowthPolicy(QFormLayout.FieldGrowthPolicy.AllNonFixedFieldsGrow)
        for what, combo in self._whose.items():
            form.addRow(what.capitalize(), combo)
        saved = QHBoxLayout()
        saved.addWidget(self._version, 1)
        saved.addWidget(self._open)
        form.addRow("Saved", saved)
        sources = QHBoxLayout()
        sources.addWidget(self._camera)
        sources.addWidget(self._pick, 1)
        layout = QVBoxLayout(self)
        layout.addLayout(form)
        layout.addWidget(self._from)
        layout.addLayout(sources)
        layout.addWidget(self._start)
        layout.addWidget(self._end)
        sits = QHBoxLayout()
        for bar in self._bars:
            bar.setRange(0, MIN_STROKES_A_SIT)
            bar.setTextVisible(True)
            bar.setMinimumWidth(60)
            sits.addWidget(bar)
        layout.addLayout(sits)

    @property
    def whose(self) -> tuple[str, str, str]:
        """Rider, bike and hands as they are written now."""
        rider, bike, hands = (self._whose[what].currentText().strip() for what in WHOSE)
        return rider, bike, hands

    def set_whose(self, names: Iterable[str]) -> None:
        """Write rider, bike and hands."""
        for what, name in zip(WHOSE, names, strict=True):
            self._whose[what].setCurrentText(name)

    def show_shelf(self, shelf: Sequence[SavedTarget]) -> None:
        """Offer the names that are on the shelf; what is written stays."""
        self._shelf = tuple(shelf)
        for what, combo in self._whose.items():
            written = combo.currentText()
            with QSignalBlocker(combo):
                combo.clear()
                combo.addItems(sorted({getattr(one, what) for one in shelf}))
                if written or not shelf:
                    combo.setCurrentText(written)
        self._show_versions()

    def _show_versions(self) -> None:
        mine = [s for s in self._shelf if (s.rider, s.bike, s.hands) == self.whose]
        self._version.clear()
        for saved in reversed(mine):
            self._version.addItem(f"v{saved.version}", saved.name)
        self._version.setEnabled(bool(mine))
        self._open.setEnabled(bool(mine))

    def show_source(self, words: str, from_recording: bool) -> None:
        """Say what is captured from."""
        self._from.setText(f"From: {words}")
        self._camera.setEnabled(from_recording)

    def show_state(self, is_capturing: bool, has_source: bool) -> None:
        """Let only do what can be done now."""
        self._start.setVisible(not is_capturing)
        self._start.setEnabled(has_source)
        self._end.setVisible(is_capturing)
        for widget in (*self._whose.values(), self._pick):
            widget.setEnabled(not is_capturing)
        if is_capturing:
            for button in (self._open, self._camera):
                button.setEnabled(False)

    def show_count(self, cells: Sequence[SitCell], theme: Theme) -> None:
        """Show the sits' strokes."""
        for bar, cell in zip(self._bars, cells, strict=True):
            bar.setValue(min(cell.strokes, MIN_STROKES_A_SIT))
            bar.setFormat(cell.text)
            bar.setAccessibleName(cell.text)
            _restyle(
                bar,
                f"QProgressBar {{ border: 1px solid {theme.text if cell.current else theme.line}; "
                f"background: {theme.panel}; color: {theme.text}; text-align: center; }} "
                f"QProgressBar::chunk {{ background: {_filled(theme)}; }}",
            )


def _filled(theme: Theme) -> str:
    """Return what a cell is filled with: its words are read on top of it."""
    return mixed(theme.panel, theme.held, 0.85 if theme is DARK else 0.35).name()


def _restyle(widget: QWidget, sheet: str) -> None:
    """Style a widget, unless it is styled so already: styling is slow."""
    if widget.styleSheet() != sheet:
        widget.setStyleSheet(sheet)
