"""The operator's window: how a watch stands, why strokes count or do not, and every key."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import partial

from PySide6.QtCore import Qt
from PySide6.QtGui import QCloseEvent, QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from posewatch.core import yield_loss
from posewatch.core.records import NS_PER_S
from posewatch.core.sources import TimedPicture
from posewatch.runtime import clock
from posewatch.runtime.engine import EngineState, Shown
from posewatch.studio import Doing, Studio
from posewatch.ui import marks_view, messages_view, operator_record, weave_view
from posewatch.ui.ask_bar import AskBar
from posewatch.ui.health_strip import HealthStrip
from posewatch.ui.health_view import health_items
from posewatch.ui.key_help import KeyHelp, with_keys
from posewatch.ui.keys import Act, bind, first_key
from posewatch.ui.live_picture import LivePicture
from posewatch.ui.marks_list import MarksList
from posewatch.ui.message_strip import MessageStrip
from posewatch.ui.operator_acts import Asked, Bounce, OperatorActs
from posewatch.ui.operator_header import OperatorHeader
from posewatch.ui.operator_record import Record
from posewatch.ui.operator_style import letters_px, style_sheet
from posewatch.ui.operator_view import advice_text
from posewatch.ui.reason_line import ReasonLine
from posewatch.ui.scene import Scene
from posewatch.ui.state_frame import StateFrame
from posewatch.ui.theme import DARK, Theme
from posewatch.ui.weave import Weave

TITLE = "posewatch: operator"
#: Numbers of the moment are written anew at most so often.
NUMBERS_NS = 2 * NS_PER_S // 5
#: A picture older than this is not shown as if it were of now.
STALE_NS = NS_PER_S
CURTAIN = "camera closed: people may change clothes; key {CAMERA} opens it"
BUTTONS = (
    (Act.CAMERA, "camera"),
    (Act.BEGIN, "begin"),
    (Act.END, "end"),
    (Act.PAUSE, "pause"),
    (Act.REST, "rest"),
    (Act.MARK, "mark"),
    (Act.UNDO, "take mark back"),
    (Act.HELP, "keys"),
)


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
        self._numbers_ns = -NUMBERS_NS
        self._newest: tuple[TimedPicture | Shown | None, int] = (None, 0)
        self._asked: Asked | None = None
        self._advised: tuple[int, str] = (-1, "")
        self._acts = OperatorActs(studio, self._note)
        own: dict[Act, Callable[[], object]] = {
            Act.CAMERA: self._acts.camera,
            Act.BEGIN: self._acts.begin,
            Act.END: self._acts.end,
            Act.PAUSE: partial(self._acts.pause, "paused"),
            Act.REST: partial(self._acts.pause, "rest"),
            Act.MARK: self._mark,
            Act.UNDO: self._withdraw,
            Act.HELP: self._toggle_help,
            Act.CLOSE: self.close,
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
        self._picture = LivePicture(self._painted)
        self._marks = MarksList(self._name)
        self._messages = MessageStrip(self._read)
        self._health = HealthStrip()
        self._buttons = {act: self._button(act, word) for act, word in BUTTONS}
        self._help = KeyHelp(self)
        self._ask = AskBar(self, self._acts.confirm, self._acts.go_on)
        self._lay_out()

    def _lay_out(self) -> None:
        left, right, middle = QVBoxLayout(), QVBoxLayout(), QHBoxLayout()
        left.addWidget(self._weave, 1)
        left.addWidget(self._advice)
        right.addWidget(self._picture, 7)
        right.addWidget(self._marks, 4)
        middle.addLayout(left, 66)
        middle.addLayout(right, 34)
        keys = QHBoxLayout()
        for button in self._buttons.values():
            keys.addWidget(button)
        keys.addStretch(1)
        rows = QVBoxLayout(self._frame)
        rows.setContentsMargins(8, 4, 8, 6)
        rows.setSpacing(6)
        rows.addWidget(self._header)
        rows.addWidget(self._reason)
        rows.addLayout(middle, 1)
        rows.addWidget(self._messages)
        rows.addWidget(self._health)
        rows.addLayout(keys)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.addWidget(self._frame)

    def _button(self, act: Act, word: str) -> QPushButton:
        button = QPushButton(f"{word}  ({first_key(act)})")
        button.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        button.setAccessibleName(str(act))
        button.setToolTip(str(act))
        button.clicked.connect(lambda _=False: self._served[act]())
        return button

    def show_scene(self, scene: Scene) -> None:
        """Take over what is shown now; what has not changed is not painted again."""
        self._acts.follow()
        self._scene, theme = scene, scene.switches.theme
        self._style(theme)
        self._record = record = operator_record.take(self._record, scene)
        session = self._studio.session
        self._frame.show_state(record.state, theme)
        self._header.show_record(record, scene, "" if session is None else session.name)
        self._show_reason()
        self._weave.show_view(record.weave, theme)
        self._show_picture(scene)
        self._marks.show_marks(record.marks, scene.doing is Doing.WATCH)
        self._messages.show_messages(record.messages, theme)
        if scene.monotonic_ns - self._numbers_ns >= NUMBERS_NS:
            self._numbers_ns = scene.monotonic_ns
            self._show_numbers(scene)
        self._show_buttons(scene)
        self._show_question()
        if self._acts.may_close:
            self.close()

    def _style(self, theme: Theme) -> None:
        letters = letters_px(self.height())
        if theme is self._theme and letters == self._letters:
            return
        self._theme, self._letters = theme, letters
        self.setStyleSheet(style_sheet(theme, letters))
        self._frame.set_width(letters)
        self._health.setFixedHeight(round(1.6 * letters))
        self._messages.setFixedHeight(round(4.4 * letters))
        self._advice.setFixedHeight(round(2.6 * letters))

    def _show_reason(self) -> None:
        settled = self._record.settled
        if settled is not None:
            line = replace(settled.line, todo=with_keys(settled.line.todo))
            self._reason.show_line(line, self._theme, self._letters)

    def _show_picture(self, scene: Scene) -> None:
        shown = scene.shown
        picture = None if shown is None else shown.picture or shown
        if picture is not self._newest[0]:
            self._newest = (picture, scene.monotonic_ns)
        age_ns = scene.monotonic_ns - self._newest[1]
        curtain = veil = ""
        if scene.doing is Doing.NOTHING:
            curtain = with_keys(CURTAIN)
        elif shown is None or scene.state is EngineState.STARTING:
            curtain = "the camera opens"
        elif age_ns >= STALE_NS:
            veil = f"no new picture since {age_ns // NS_PER_S} s"
        chain = None if scene.target is None else scene.target.chain
        size_px = (640, 480) if chain is None else (chain.width_px, chain.height_px)
        self._picture.show_moment(shown, curtain, veil, size_px, self._theme)

    def _show_numbers(self, scene: Scene) -> None:
        self._health.show_items(health_items(scene), self._theme)
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
            Act.BEGIN: scene.target is not None and scene.doing in (Doing.NOTHING, Doing.PREVIEW),
            Act.END: scene.doing in (Doing.WATCH, Doing.CAPTURE),
            Act.PAUSE: watching,
            Act.REST: watching,
            Act.MARK: watching,
            Act.UNDO: watching and marks_view.last_own(self._record.marks) is not None,
        }
        for act, button in self._buttons.items():
            button.setEnabled(can.get(act, True))

    def _show_question(self) -> None:
        asked = self._acts.asked
        if asked is self._asked:
            return
        self._asked = asked
        words = "" if asked is None else f"A watch is running: end it and {asked}?"
        end = f"end it and {asked or Asked.CLOSE}  ({first_key(Act.END)})"
        self._ask.ask(words, end)

    def _do(self, bounce: Bounce, act: Act, do: Callable[[], object]) -> None:
        """Do an act unless its switch only bounced, and show it at once."""
        if bounce.accepts(act):
            do()
            self._marks.show_marks(self._record.marks, self._studio.doing is Doing.WATCH)
            self._messages.show_messages(self._record.messages, self._theme)
            self._show_question()

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

    def _note(self, text: str) -> None:
        self._record = operator_record.note(self._record, text)

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
        self._ask.place()

    def closeEvent(self, event: QCloseEvent) -> None:
        """Close once nothing is under way; a running watch is asked about."""
        if not self._acts.may_close:
            self._acts.close()
        if not self._acts.may_close:
            event.ignore()
            self._show_question()
            return
        event.accept()
        self._closed()
