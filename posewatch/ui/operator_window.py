"""The operator's window: how a watch stands, why strokes count or do not, and every key."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import partial

from PySide6.QtCore import Qt
from PySide6.QtGui import QCloseEvent, QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QVBoxLayout, QWidget

from posewatch.core import yield_loss
from posewatch.core.records import NS_PER_S
from posewatch.runtime import clock
from posewatch.runtime.engine import Shown
from posewatch.studio import Doing, Studio
from posewatch.ui import marks_view, messages_view, operator_record, weave_view
from posewatch.ui.ask_bar import AskBar
from posewatch.ui.health_strip import HealthStrip
from posewatch.ui.health_view import Level, health_items
from posewatch.ui.key_help import KeyHelp, with_keys
from posewatch.ui.keys import Act, bind
from posewatch.ui.marks_list import MarksList
from posewatch.ui.message_strip import MessageStrip
from posewatch.ui.operator_acts import Bounce, OperatorActs
from posewatch.ui.operator_buttons import OF_A_TRIAL, ActButtons
from posewatch.ui.operator_header import OperatorHeader
from posewatch.ui.operator_meter import MeterActs
from posewatch.ui.operator_picture import OperatorPicture
from posewatch.ui.operator_record import Record
from posewatch.ui.operator_style import letters_px, style_sheet
from posewatch.ui.operator_trainer import TrainerActs
from posewatch.ui.operator_view import advice_text, notes
from posewatch.ui.operator_visit import OperatorVisit
from posewatch.ui.question import Question
from posewatch.ui.reason_line import ReasonLine
from posewatch.ui.scene import Scene
from posewatch.ui.sensor_row import SensorRow
from posewatch.ui.state_frame import StateFrame
from posewatch.ui.theme import DARK, Theme
from posewatch.ui.weave import Weave

TITLE = "posewatch: operator"
#: Numbers of the moment are written anew at most so often.
NUMBERS_NS = 2 * NS_PER_S // 5


class OperatorWindow(QWidget):
    """Shows scenes to the operator and acts on the studio.

    acts: what keys do that belong to the whole program. closed: is called when the window has
    closed, with nothing under way any more. now_ns: the monotonic clock.
    """

    def __init__(
        self,
        studio: Studio,
        acts: Mapping[Act, Callable[[], None]] | None = None,
        closed: Callable[[], None] = lambda: None,
        now_ns: Callable[[], int] = clock.monotonic_ns,
    ) -> None:
        super().__init__()
        self.setWindowTitle(TITLE)
        self.setAccessibleName(TITLE)
        self.setMinimumSize(1000, 620)
        self._studio, self._closed, self._now_ns = studio, closed, now_ns
        self._record = Record()
        self._scene: Scene | None = None
        self._theme, self._letters = DARK, 0
        self._styled: tuple[Theme, int, int] | None = None
        self._numbers_ns = -NUMBERS_NS
        self._advised: tuple[int, str] = (-1, "")
        self._acts = OperatorActs(studio, self._note)
        self._trainer = TrainerActs(studio, self._note)
        self._meter = MeterActs(studio, self._note)
        self.visit = OperatorVisit(studio, self._note, now_ns)
        own: dict[Act, Callable[[], object]] = {
            Act.CAMERA: self._acts.camera,
            Act.BEGIN: self._begin,
            Act.END: self._end,
            Act.PAUSE: partial(self._acts.pause, "paused"),
            Act.REST: partial(self._acts.pause, "rest"),
            Act.MARK: self._mark,
            Act.UNDO: self._withdraw,
            Act.HOLD: self._trainer.toggle,
            Act.ZERO: self._meter.ask,
            Act.YES: self._answer,
            Act.HELP: self._toggle_help,
            Act.CLOSE: self.close,
            **self.visit.acts(),
        }
        bounce = Bounce(now_ns)
        self._served = {act: partial(self._do, bounce, act, do) for act, do in own.items()}
        self._build()
        bind(self, {**self._served, **(acts or {})})

    def _build(self) -> None:
        self._frame = StateFrame()
        self._header = OperatorHeader()
        self._reason = ReasonLine()
        self._weave, self._advice = Weave(), QLabel()
        self._advice.setWordWrap(True)
        self._advice.setObjectName("small")
        self._advice.setAccessibleName("what costs most strokes")
        self._notes = QLabel()
        self._notes.setObjectName("notes")
        self._notes.setWordWrap(True)
        self._notes.setAccessibleName("flags of the trial, and smoothness")
        self._notes.hide()
        self._picture = OperatorPicture(self._painted)
        self._marks = MarksList(self._name)
        self._messages = MessageStrip(self._read)
        self._health = HealthStrip()
        self._sensors = SensorRow(self._served, self._trainer, self._meter)
        self._buttons = ActButtons(OF_A_TRIAL, self._served)
        self._help = KeyHelp(self)
        self._ask = AskBar()
        self._lay_out()

    def _lay_out(self) -> None:
        watched = QWidget()
        left, right, middle = QVBoxLayout(watched), QVBoxLayout(), QHBoxLayout()
        left.setContentsMargins(0, 0, 0, 0)
        left.addWidget(self._weave, 1)
        left.addWidget(self._notes)
        left.addWidget(self._advice)
        right.addWidget(self._picture, 7)
        right.addWidget(self._marks, 4)
        self.visit.build(watched, self._reason, self._served, self._buttons)
        middle.addWidget(self.visit.stack, 66)
        middle.addLayout(right, 34)
        rows = QVBoxLayout(self._frame)
        rows.setContentsMargins(8, 4, 8, 6)
        rows.setSpacing(6)
        rows.addWidget(self._header)
        rows.addWidget(self.visit.strip)
        rows.addWidget(self._reason)
        rows.addLayout(middle, 1)
        rows.addWidget(self._ask)
        rows.addWidget(self._messages)
        rows.addWidget(self._sensors)
        rows.addWidget(self._health)
        rows.addWidget(self._buttons, 0, Qt.AlignmentFlag.AlignLeft)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.addWidget(self._frame)

    def show_scene(self, scene: Scene) -> None:
        """Take over what is shown now; what has not changed is not painted again."""
        self._acts.follow()
        self._trainer.follow()
        self._meter.follow(scene)
        self._scene, theme = scene, scene.switches.theme
        self._style(theme)
        self._record = record = operator_record.take(self._record, scene)
        session = self._studio.session
        self._frame.show_state(record.state, theme)
        self._header.show_record(record, scene, "" if session is None else session.name)
        self._show_reason()
        self._weave.show_view(record.weave, theme)
        self._picture.show_scene(scene)
        self._marks.show_marks(record.marks, scene.doing is Doing.WATCH)
        self._messages.show_messages(record.messages, theme)
        if scene.monotonic_ns - self._numbers_ns >= NUMBERS_NS:
            self._numbers_ns = scene.monotonic_ns
            self._show_numbers(scene)
        self._show_buttons(scene)
        self.visit.show(theme)
        self._ask.ask(self._question())
        if self._acts.may_close:
            self.close()

    def _style(self, theme: Theme) -> None:
        letters = letters_px(self.height())
        styled = (theme, letters, self.width())
        if styled == self._styled:
            return
        self._styled = styled
        self._theme, self._letters = theme, letters
        self.setStyleSheet(style_sheet(theme, letters, self.width()))
        self._frame.set_width(letters)
        self._health.setFixedHeight(round(1.6 * letters))
        self._sensors.set_height(round(1.6 * letters))
        self._messages.setFixedHeight(round(4.4 * letters))
        self._advice.setFixedHeight(round(2.6 * letters))

    def _show_reason(self) -> None:
        settled = self._record.settled
        if settled is not None:
            line = replace(settled.line, todo=with_keys(settled.line.todo))
            self._reason.show_line(line, self._theme, self._letters)

    def _show_numbers(self, scene: Scene) -> None:
        self._health.show_items(health_items(scene), self._theme)
        self._sensors.show_scene(scene, self._theme)
        self._notes.setText(notes(self._record.flags, self._record.means))
        self._notes.setVisible(bool(self._notes.text()))
        weave, yielded = self._record.weave, self._record.yielded
        if weave is not None:
            live = () if scene.standing is None else scene.standing.live
            self._weave.show_live(tuple(weave_view.live_text(row, live) for row in weave.rows))
        if yielded is not None and yielded.n_ridden != self._advised[0]:
            self._advised = (yielded.n_ridden, advice_text(yield_loss.advise(yielded)))
            self._advice.setText(self._advised[1])

    def _show_buttons(self, scene: Scene) -> None:
        watching = scene.doing is Doing.WATCH
        can = {
            Act.BEGIN: self.visit.desk is not None
            or (scene.target is not None and scene.doing in (Doing.NOTHING, Doing.PREVIEW)),
            Act.END: scene.doing in (Doing.WATCH, Doing.CAPTURE),
            Act.PAUSE: watching,
            Act.REST: watching,
            Act.MARK: watching,
            Act.UNDO: watching and marks_view.last_own(self._record.marks) is not None,
        }
        self._buttons.enable(can)

    def _question(self) -> Question | None:
        """Return what is asked now: first, what would end the watch."""
        return self._acts.question or self._trainer.question or self._meter.question

    def _answer(self) -> None:
        """Answer yes, unless the answer has a key of its own."""
        question = self._question()
        if question is not None and question.key is Act.YES:
            question.on_yes()

    def _do(self, bounce: Bounce, act: Act, do: Callable[[], object]) -> None:
        """Do an act unless its switch only bounced, and show it at once."""
        if bounce.accepts(act):
            do()
            self._marks.show_marks(self._record.marks, self._studio.doing is Doing.WATCH)
            self._messages.show_messages(self._record.messages, self._theme)
            self._ask.ask(self._question())
            self.visit.show(self._theme)

    def _begin(self) -> None:
        if self.visit.desk is None:
            self._acts.begin()
        else:
            self.visit.desk.next()

    def _end(self) -> None:
        if self.visit.desk is None or self._acts.asked is not None:
            self._acts.end()
        else:
            self.visit.desk.end_trial()

    def _mark(self) -> None:
        if self._acts.mark():
            at_ns = self._record.session_ns(self._now_ns())
            self._record = replace(self._record, marks=marks_view.press(self._record.marks, at_ns))

    def _withdraw(self) -> None:
        last = marks_view.last_own(self._record.marks)
        if last is not None and self._acts.withdraw(last.number):
            marks = marks_view.withdraw(self._record.marks, last.number)
            self._record = replace(self._record, marks=marks)

    def _name(self, number: int, label: str) -> None:
        if self._acts.name(number, label):
            marks = marks_view.name(self._record.marks, number, label)
            self._record = replace(self._record, marks=marks)

    def _note(self, text: str, level: Level = Level.WARN) -> None:
        self._record = operator_record.note(self._record, text, level)

    def _read(self) -> None:
        messages = messages_view.read_all(self._record.messages)
        self._record = replace(self._record, messages=messages)
        self._messages.show_messages(messages, self._theme)

    def _toggle_help(self) -> None:
        self._help.toggle()

    def _painted(self, shown: Shown) -> None:
        if shown.grabbed_ns:
            self._studio.post.health.took("paint", self._now_ns() - shown.grabbed_ns)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Keep what lies over the window in its place, and letters of its size."""
        super().resizeEvent(event)
        self._style(self._theme)
        self._help.place()

    def closeEvent(self, event: QCloseEvent) -> None:
        """Close once nothing is under way; a running watch is asked about."""
        if not self._acts.may_close:
            self._acts.close()
        if not self._acts.may_close:
            event.ignore()
            self._ask.ask(self._question())
            return
        event.accept()
        self._closed()
