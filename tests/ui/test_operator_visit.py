"""A visit in the operator's window: every key, what is seen when, and nothing that is modal."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from conducted import SITTING, Conducted, Times, small_design
from made_codes import NAMES
from made_operator_scenes import stands
from PySide6.QtCore import Qt
from PySide6.QtGui import QShortcut
from PySide6.QtTest import QTest
from PySide6.QtWidgets import (
    QApplication,
    QDialog,
    QLabel,
    QLineEdit,
    QListWidget,
    QPushButton,
    QWidget,
)
from pytestqt.qtbot import QtBot

from posewatch.core.standing import Standing
from posewatch.studio import Doing
from posewatch.trials import acts
from posewatch.trials.words import ConcealmentLevel
from posewatch.ui.operator_window import OperatorWindow
from posewatch.ui.scene import Switches
from posewatch.ui.theme import LIGHT
from posewatch.ui.visit_ride import Visiting
from posewatch.ui.visit_view import Next
from posewatch.ui.weave import Weave

NO, CTRL = Qt.KeyboardModifier.NoModifier, Qt.KeyboardModifier.ControlModifier


class Seen(Conducted):
    """A visit whose desk is the window's."""

    window: OperatorWindow

    def open(self, qtbot: QtBot) -> None:
        self.window = OperatorWindow(self.studio, now_ns=lambda: self.times.ns)
        qtbot.addWidget(self.window, before_close_func=lambda window: window.hide())
        self.window.resize(1280, 720)
        with qtbot.waitExposed(self.window):
            self.window.show()
        self.window.activateWindow()
        qtbot.waitUntil(self.window.isActiveWindow)
        self.desk = self.window.visit.open(Visiting(self.visit))
        self.show()

    def show(
        self,
        standing: Standing | None = None,
        seconds: float = 1.0,
        switches: Switches | None = None,
    ) -> None:
        """Let time pass, and the window see how things stand."""
        self.times.pass_by(seconds)
        made = self.scene(standing, switches=switches)
        self.desk.follow(made)
        self.window.show_scene(replace(made, reset=self.desk.reset))

    def press(self, key: Qt.Key, modifier: Qt.KeyboardModifier = NO) -> None:
        self.show(None if self.studio.doing is not Doing.WATCH else SITTING)
        QTest.keyClick(self.window.focusWidget() or self.window, key, modifier)

    def type(self, text: str) -> None:
        line = self.window.focusWidget()
        assert isinstance(line, QLineEdit)
        line.clear()
        QTest.keyClicks(line, text)

    def texts(self) -> str:
        labels = [one.text() for one in self.window.findChildren(QLabel) if one.isVisible()]
        lists = [
            one.item(row).text()
            for one in self.window.findChildren(QListWidget)
            if one.isVisible()
            for row in range(one.count())
        ]
        parts = [one for one in self.window.findChildren(QWidget) if one.isVisible()]
        return "\n".join(labels + lists + [one.accessibleDescription() for one in parts])

    def button(self, word: str) -> QPushButton:
        found = self.window.findChildren(QPushButton)
        return next(one for one in found if one.text().startswith(word))


@pytest.fixture
def seen(qtbot: QtBot, tmp_path: Path, times: Times) -> Iterator[Seen]:
    made = Seen(tmp_path, times)
    made.open(qtbot)
    yield made
    made.engine.busy = False


def to_trial(seen: Seen) -> None:
    seen.begin()
    seen.mount()
    seen.show()


def test_where_and_what_is_next_are_always_told(seen: Seen) -> None:
    assert "visit 1 of 1 is to begin" in seen.texts()
    assert "Return begins it" in seen.texts()
    seen.press(Qt.Key.Key_Return)
    seen.type("op3")
    QTest.keyClick(seen.window.focusWidget(), Qt.Key.Key_Return)
    assert seen.acts[0] == acts.VisitBegun(seen.acts[0].t_ns, 1, "op3")
    assert "the warm-up of 10 min 00 s has not begun" in seen.texts()
    assert "about 36 min left" in seen.texts()


def test_the_check_list_by_its_keys(seen: Seen) -> None:
    seen.begin()
    seen.press(Qt.Key.Key_Return)
    assert seen.step is Next.LINE
    for key in (Qt.Key.Key_Return, Qt.Key.Key_Down, Qt.Key.Key_Down, Qt.Key.Key_Up):
        seen.press(key)
    seen.press(Qt.Key.Key_Return)
    keys = [one.line for one in seen.acts if isinstance(one, acts.LineDone)]
    assert keys == ["pad_square", "seams_flat"]
    seen.press(Qt.Key.Key_K)
    QTest.keyClick(seen.window.focusWidget(), Qt.Key.Key_Return)
    seen.type("Kp")
    QTest.keyClick(seen.window.focusWidget(), Qt.Key.Key_Return)
    assert seen.last == acts.LineSkipped(0, "same_underlayer", "Kp")
    assert "(left out: Kp)" in seen.texts()


def test_a_key_that_is_held_or_bounces_ticks_one_line(seen: Seen) -> None:
    seen.begin()
    seen.press(Qt.Key.Key_Return)
    seen.show()
    for _ in range(3):
        seen.times.pass_by(0.05)
        QTest.keyClick(seen.window, Qt.Key.Key_Return)
    assert sum(isinstance(one, acts.LineDone) for one in seen.acts) == 1
    assert not any(one.autoRepeat() for one in seen.window.findChildren(QShortcut))


@pytest.mark.parametrize(
    ("key", "title"),
    [
        (Qt.Key.Key_K, "leave out"),
        (Qt.Key.Key_T, "note"),
        (Qt.Key.Key_G, "hardness of an item, at one place"),
        (Qt.Key.Key_I, "figures of an item"),
        (Qt.Key.Key_A, "the trial on the"),
        (Qt.Key.Key_R, "ride the last trial again"),
    ],
)
def test_each_key_opens_its_form_and_escape_takes_it_away(
    seen: Seen, key: Qt.Key, title: str
) -> None:
    to_trial(seen)
    seen.trial()
    n = len(seen.acts)
    seen.press(key)
    assert title in seen.texts()
    assert isinstance(seen.window.focusWidget(), QLineEdit)
    QTest.keyClick(seen.window.focusWidget(), Qt.Key.Key_Escape)
    seen.show()
    assert title not in seen.texts()
    assert len(seen.acts) == n
    assert QApplication.activeModalWidget() is None
    assert seen.window.findChildren(QDialog) == []


def test_in_a_trial_the_weave_is_seen_and_the_board_while_something_is_typed(seen: Seen) -> None:
    to_trial(seen)
    weave = seen.window.findChildren(Weave)[0]
    assert not weave.isVisible()
    seen.press(Qt.Key.Key_Return)
    seen.show(SITTING)
    assert weave.isVisible()
    seen.press(Qt.Key.Key_T)
    assert not weave.isVisible()
    seen.type("window open")
    for _ in ("note", "picture"):
        QTest.keyClick(seen.window.focusWidget(), Qt.Key.Key_Return)
    assert weave.isVisible()
    assert any(isinstance(one, acts.Noted) for one in seen.acts)


def test_the_reset_is_told_in_place_of_the_reason(seen: Seen) -> None:
    to_trial(seen)
    seen.press(Qt.Key.Key_Return)
    for _ in range(5):
        seen.show(SITTING)
    assert "reset, tell the rider: stand" in seen.texts()
    assert "stay seated and pedal on" not in seen.texts()
    assert "reset" in seen.texts().split("\n")[0]
    for _ in range(14):
        seen.show(SITTING)
    assert "stay seated and pedal on" in seen.texts()


def test_breaking_off_asks_why_and_pause_and_rest_work_as_ever(seen: Seen) -> None:
    to_trial(seen)
    seen.press(Qt.Key.Key_Return)
    seen.press(Qt.Key.Key_B)
    assert seen.studio.paused == "rest"
    seen.press(Qt.Key.Key_B)
    assert seen.studio.paused == ""
    seen.press(Qt.Key.Key_Return, CTRL)
    assert "break the trial off; it goes on until then" in seen.texts()
    QTest.keyClick(seen.window.focusWidget(), Qt.Key.Key_PageUp)
    assert seen.studio.paused == "rest", "a foot switch works while something is typed"
    seen.type("doorbell")
    QTest.keyClick(seen.window.focusWidget(), Qt.Key.Key_Return, CTRL)
    assert seen.engine.post.stop.is_set()
    seen.finish(3)
    assert seen.last == acts.TrialClosed(0, 3, 3_000_000_000, "doorbell")


def test_reached_is_told_clearly_and_one_key_closes_the_trial(seen: Seen) -> None:
    to_trial(seen)
    seen.press(Qt.Key.Key_Return)
    for _ in range(18):
        seen.show(stands(counted=60))
    done = [one for one in seen.window.findChildren(QLabel) if one.objectName() == "done"]
    assert [one.text() for one in done] == ["done: 60 strokes are counted; the rider may ease off"]
    QTest.keyClick(seen.window, Qt.Key.Key_Return)
    assert seen.engine.post.stop.is_set()
    seen.finish()
    seen.show()
    assert "camera closed: people may change clothes; key O opens it" in seen.texts()
    seen.press(Qt.Key.Key_O)
    assert seen.studio.doing is Doing.PREVIEW


def test_a_record_that_cannot_be_written_is_told_in_large(
    seen: Seen, monkeypatch: pytest.MonkeyPatch
) -> None:
    to_trial(seen)
    seen.press(Qt.Key.Key_Return)

    def full(*_: object) -> None:
        raise OSError("no space left")

    monkeypatch.setattr("posewatch.store.visit_record.VisitRecord.add", full)
    seen.show(SITTING)
    seen.show(SITTING)
    assert seen.engine.post.stop.is_set()
    fault = [one for one in seen.window.findChildren(QLabel) if one.objectName() == "fault"]
    assert [one.text() for one in fault] == [
        "the visit's record cannot be written: nothing is kept any more"
    ]
    assert "no space left" in seen.texts()


def test_space_and_tab_press_nothing_and_buttons_take_no_keyboard(seen: Seen) -> None:
    to_trial(seen)
    n = len(seen.acts)
    for button in seen.window.findChildren(QPushButton):
        assert button.focusPolicy() is Qt.FocusPolicy.NoFocus
    for key in (Qt.Key.Key_Space, Qt.Key.Key_Tab, Qt.Key.Key_Space):
        seen.press(key)
    assert len(seen.acts) == n
    assert seen.desk.form is None
    assert seen.studio.doing is Doing.NOTHING


def test_buttons_do_what_their_keys_do_and_are_off_where_they_would_do_nothing(
    seen: Seen,
) -> None:
    words = ("leave out", "ride again", "rate", "hardness", "figures")
    assert not any(seen.button(word).isEnabled() for word in words)
    assert seen.button("note").isEnabled()
    to_trial(seen)
    enabled = {word: seen.button(word).isEnabled() for word in words}
    assert enabled == {
        "leave out": True,
        "ride again": False,
        "rate": False,
        "hardness": True,
        "figures": True,
    }
    assert seen.button("next").isEnabled()
    seen.button("next").click()
    assert seen.studio.doing is Doing.WATCH


@pytest.mark.parametrize(("wide", "high"), [(1000, 620), (1280, 720), (1920, 1080)])
@pytest.mark.parametrize("opens", ["rate", "gauge", "skip"])
def test_everything_fits(seen: Seen, wide: int, high: int, opens: str) -> None:
    to_trial(seen)
    seen.trial()
    seen.window.resize(wide, high)
    open_form: Callable[[], None] = getattr(seen.desk, opens)
    open_form()
    seen.show()
    QApplication.processEvents()
    assert (seen.window.width(), seen.window.height()) == (wide, high)
    lines = [one for one in seen.window.findChildren(QLineEdit) if one.isVisible()]
    parts: list[QWidget] = [*lines, *seen.window.findChildren(QPushButton)]
    for part in parts:
        if part.isVisible():
            corner = part.mapTo(seen.window, part.rect().bottomRight())
            assert seen.window.rect().contains(corner)
    for line in lines:
        assert line.height() >= line.fontMetrics().height(), "letters would be cut off"


def test_both_themes(seen: Seen) -> None:
    seen.begin()
    seen.press(Qt.Key.Key_Return)
    seen.show(switches=Switches(theme=LIGHT))
    picture = seen.window.grab().toImage()
    colours = {
        picture.pixelColor(x, y).name().upper() for x in range(0, 1280, 5) for y in (60, 400)
    }
    assert LIGHT.ground in colours
    assert LIGHT.panel in colours


def test_no_window_text_holds_a_name(qtbot: QtBot, tmp_path: Path, times: Times) -> None:
    seen = Seen(tmp_path, times, small_design(concealment=ConcealmentLevel.ITEM_COVERED))
    seen.open(qtbot)
    told = seen.texts()
    to_trial(seen)
    told += seen.texts()
    seen.trial()
    seen.press(Qt.Key.Key_G)
    told += seen.texts()
    seen.engine.busy = False
    assert seen.visit.next_code in told
    for name in NAMES:
        assert name not in told


def test_without_a_visit_its_keys_only_say_so(qtbot: QtBot, tmp_path: Path, times: Times) -> None:
    seen = Seen(tmp_path, times)
    window = OperatorWindow(seen.studio)
    qtbot.addWidget(window)
    with qtbot.waitExposed(window):
        window.show()
    window.activateWindow()
    qtbot.waitUntil(window.isActiveWindow)
    for key in (Qt.Key.Key_Up, Qt.Key.Key_Down, Qt.Key.Key_K):
        QTest.keyClick(window, key)
    (messages,) = (
        one
        for one in window.findChildren(QListWidget)
        if one.accessibleName().startswith("messages")
    )
    assert messages.item(0).text().endswith("No visit is under way: one is begun in set-up.")
    seen.visit.close()
