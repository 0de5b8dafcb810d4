"""The fitter's window: capture a position, see it over the crank circle, set limits, keep it.

It shows deviations from this rider's own target, never from any norm.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QFileDialog, QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from posewatch.core.capture import Subject
from posewatch.core.capture_progress import CaptureProgress
from posewatch.core.records import BODY_CHANNELS, Channel
from posewatch.runtime.engine import EngineState
from posewatch.studio import Studio
from posewatch.ui import stroke_traces
from posewatch.ui.capture_panel import CapturePanel
from posewatch.ui.capture_view import cells, early_end, prompt
from posewatch.ui.comparison_panel import ComparisonPanel
from posewatch.ui.deviation_plot import DeviationPlot
from posewatch.ui.fitter_desk import FitterDesk
from posewatch.ui.fitter_head import FitterHead, FitterNote
from posewatch.ui.fitter_style import style, text_px
from posewatch.ui.fitter_view import (
    NOISE_KEY,
    channel_shown,
    difference_curves,
)
from posewatch.ui.keep_panel import KeepPanel
from posewatch.ui.keys import Act, bind
from posewatch.ui.limit_rows import LimitRows
from posewatch.ui.scene import Scene
from posewatch.ui.theme import DARK

TITLE = "posewatch: fitter"
SMALLEST = QSize(1120, 690)
STEPS = (
    "1  Write rider, bike and hands.\n\n2  Capture from the camera chosen at set-up, or choose a "
    "recording.\n\n3  Three sits of 20 strokes: leave the saddle between them. They tell how much "
    "sitting down anew moves each channel.\n\n4  Set the limits, and keep the target.\n\nOr open a "
    "saved version."
)
#: Files that can be captured from.
RECORDINGS = "Recorded landmarks and clips (*.landmarks.npz *.mp4 *.mov *.avi *.mkv);;All files (*)"


def ask_for_recording(window: QWidget) -> Path | None:
    """Let a person choose a recording or clip; None = none was chosen."""
    name, _ = QFileDialog.getOpenFileName(window, "Recording or clip", "", RECORDINGS)
    return Path(name) if name else None


class FitterWindow(QWidget):
    """Shows scenes to the fitter, and does what the fitter says.

    acts: what its keys do besides undoing and ending a capture. ask: for a recording's file.
    """

    def __init__(
        self,
        studio: Studio,
        acts: Mapping[Act, Callable[[], None]] | None = None,
        ask: Callable[[QWidget], Path | None] = ask_for_recording,
    ) -> None:
        super().__init__()
        self.desk = FitterDesk(studio)
        self._studio, self._ask = studio, ask
        self._theme, self._px = DARK, 0
        self._painted: dict[str, object] = {}
        self._prompt = ("", "")
        self.setObjectName("fitter")
        self.setWindowTitle(TITLE)
        self.setAccessibleName(TITLE)
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        # Of its own, since the layout's is that of the text before it shrinks with the window.
        self.setMinimumSize(SMALLEST)
        self.head, self.note = FitterHead(), FitterNote()
        # In the order of the Tab key.
        self.capture_panel, self.rows = CapturePanel(), LimitRows()
        self.comparison, self.plot = ComparisonPanel(), DeviationPlot()
        self.strokes_from = QPushButton(
            "Show strokes of recorded &landmarks\N{HORIZONTAL ELLIPSIS}"
        )
        self.keep_panel = KeepPanel()
        self._steps, self._key = QLabel(STEPS), QLabel(NOISE_KEY)
        self._lay_out()
        self._connect()
        own = {
            Act.UNDO: lambda: self._do(self.desk.undo),
            Act.END: lambda: self._do(self.desk.end_capture),
        }
        bind(self, {**own, **(acts or {})})
        self._paint_desk()

    def _lay_out(self) -> None:
        self._steps.setObjectName("steps")
        self._key.setObjectName("faint")
        for label in (self._key, self._steps):
            label.setWordWrap(True)
        left = QVBoxLayout()
        left.addWidget(self.capture_panel)
        left.addWidget(self.keep_panel)
        left.addStretch(1)
        middle = QVBoxLayout()
        middle.addWidget(self._steps)
        middle.addWidget(self.rows)
        middle.addWidget(self._key)
        middle.addWidget(self.comparison)
        middle.addStretch(1)
        right = QVBoxLayout()
        right.addWidget(self.plot, 1)
        right.addWidget(self.strokes_from, 0, Qt.AlignmentFlag.AlignRight)
        body = QHBoxLayout()
        body.setSpacing(12)
        for column, stretch in ((left, 29), (middle, 33), (right, 46)):
            body.addLayout(column, stretch)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(12, 8, 12, 8)
        layout.addWidget(self.head)
        layout.addLayout(body, 1)
        layout.addWidget(self.note)

    def _connect(self) -> None:
        desk, panel, keep = self.desk, self.capture_panel, self.keep_panel
        panel.started.connect(lambda: self._do(self._start_capture))
        panel.ended.connect(lambda: self._do(desk.end_capture))
        panel.recording_wanted.connect(lambda: self._ask_for(desk.capture_from))
        panel.camera_wanted.connect(lambda: self._do(lambda: desk.capture_from(None)))
        panel.open_wanted.connect(lambda name: self._do(lambda: desk.open(name)))
        self.rows.chosen.connect(lambda _: self._paint_desk())
        self.rows.limit_typed.connect(self._set_tolerance)
        self.rows.held_set.connect(
            lambda channel, required: self._do(lambda: desk.set_required(channel, required))
        )
        self.plot.limit_set.connect(lambda size: self._set_tolerance(self.rows.channel, size))
        keep.undo_wanted.connect(lambda: self._do(desk.undo))
        keep.redo_wanted.connect(lambda: self._do(desk.redo))
        keep.note_set.connect(lambda note: self._do(lambda: desk.set_note(note)))
        keep.author_set.connect(lambda author: self._do(lambda: desk.set_author(author)))
        keep.kept.connect(lambda all_the_same: self._do(lambda: self._keep(all_the_same)))
        self.comparison.wanted.connect(lambda name: self._do(lambda: desk.compare(name)))
        self.strokes_from.clicked.connect(lambda: self._ask_for(desk.show_recording))

    def _do(self, act: Callable[[], object]) -> None:
        """Do what was asked for, and show what came of it."""
        act()
        self._paint_desk()

    def _start_capture(self) -> None:
        rider, bike, hands = self.capture_panel.whose
        note, author = self.keep_panel.note, self.keep_panel.author
        self.desk.begin(Subject(rider, bike, hands, note.strip(), author.strip()))

    def _ask_for(self, act: Callable[[Path], object]) -> None:
        """Do something with a recording that a person chooses."""
        path = self._ask(self)
        if path is not None:
            self._do(lambda: act(path))

    def _set_tolerance(self, channel: Channel, size: float) -> None:
        self.rows.choose(channel)
        self._do(lambda: self.desk.set_tolerance(channel, size))

    def _keep(self, all_the_same: bool) -> None:
        # The keys that press the button may leave the cursor in a field.
        self.desk.set_note(self.keep_panel.note)
        self.desk.set_author(self.keep_panel.author)
        self.desk.keep(all_the_same)

    def open_for(self, subject: Subject) -> None:
        """Be ready to capture for a subject; a target that is not kept yet stays on the table."""
        self.desk.reload()
        self._do(self.desk.clear)
        names = zip(
            (subject.rider, subject.bike, subject.hands), self.capture_panel.whose, strict=True
        )
        self.capture_panel.set_whose(new or written for new, written in names)
        if self.desk.target is None:
            self.keep_panel.write(subject.note, subject.author)

    def show_scene(self, scene: Scene) -> None:
        """Take over what is shown now; what has not changed is not painted again."""
        self.desk.follow(scene)
        if scene.switches.theme is not self._theme:
            self._theme = scene.switches.theme
            self._restyle()
        counted = self._studio.post.counted if self.desk.is_capturing else None
        self._paint_count(scene, counted)
        self._paint_desk()

    def _paint_count(self, scene: Scene, counted: CaptureProgress | None) -> None:
        if self.desk.is_capturing:
            ready = scene.state is EngineState.RUNNING
            stopping = scene.state is EngineState.STOPPING
            words = (prompt(counted, ready, stopping), early_end(counted))
        else:
            words = ("", "")
        sits = cells(counted)
        if self._is_new("count", (sits, self._theme)):
            self.capture_panel.show_count(sits, self._theme)
        self._prompt = words
        if self._is_new("head", (words, self.desk.target)):
            self.head.show_words(*self._prompt, self.desk.target)

    def _paint_desk(self) -> None:
        """Show the desk as it is; parts that have not changed are left alone."""
        desk, channel = self.desk, self.rows.channel
        if self._is_new("shelf", desk.shelf):
            self.capture_panel.show_shelf(desk.shelf)
        source = desk.source
        words = "nothing chosen yet" if source is None else source.name
        camera = "" if source is None or source.camera is None else ", calibrated"
        from_recording = desk.recording is not None
        if self._is_new("source", (words, camera, from_recording, desk.is_capturing)):
            self.capture_panel.show_source(f"{words}{camera}", from_recording)
            self.capture_panel.show_state(desk.is_capturing, source is not None)
            self.strokes_from.setEnabled(not desk.is_capturing)  # it asks with a dialog
        if self._is_new("note", (desk.note, desk.is_trouble)):
            self.note.show_note(desk.note, desk.is_trouble)
        target = desk.target
        if self._is_new("target", target):
            self._paint_target()
        if self._is_new("editing", desk.editing):
            self.keep_panel.show_editing(desk.editing)
        if self._is_new("comparison", (desk.other, target, desk.shelf)):
            self.comparison.show_shelf(desk.shelf, target, desk.other)
            self.comparison.show_difference(desk.other, target)
        if target is not None and self._is_new("plot", (channel, target, desk.other)):
            self.plot.show_channel(channel_shown(target, channel))
            other = desk.other
            self.plot.show_other(() if other is None else difference_curves(other, target, channel))
        self._paint_strokes(channel)

    def _paint_target(self) -> None:
        target = self.desk.target
        self.head.show_words(*self._prompt, self.desk.target)
        for widget in (self.rows, self._key, self.comparison, self.plot, self.strokes_from):
            widget.setVisible(target is not None)
        self._steps.setVisible(target is None)
        if target is not None:
            self.capture_panel.set_whose((target.rider, target.bike, target.hands))
            self.rows.show_channels([channel_shown(target, one) for one in BODY_CHANNELS])

    def _paint_strokes(self, channel: Channel) -> None:
        traces = self.desk.traces
        limit = None if self.desk.target is None else self.desk.target.envelope(channel).tol
        n = 0 if traces is None else traces.n
        if not self._is_new("strokes", (n, traces is None, channel, limit, self._theme)):
            return
        if traces is None:
            self.plot.show_strokes((), ())
        else:
            self.plot.show_strokes(
                stroke_traces.of_channel(traces, channel), stroke_traces.means_of(traces, channel)
            )

    def _is_new(self, part: str, value: object) -> bool:
        """Tell whether a part must be painted again; from now on this is what it shows."""
        is_new = part not in self._painted or self._painted[part] != value
        self._painted[part] = value
        return is_new

    def _restyle(self) -> None:
        self._px = text_px(self.width(), self.height())
        self.setStyleSheet(style(self._theme, self._px))
        self.plot.set_theme(self._theme, self._px)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Take the size of text from the window's."""
        super().resizeEvent(event)
        if text_px(self.width(), self.height()) != self._px:
            self._restyle()
