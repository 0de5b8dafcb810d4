"""A form as a widget: its keys, and that none of them does anything else meanwhile."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QShortcut
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QLabel, QLineEdit, QVBoxLayout, QWidget
from pytestqt.qtbot import QtBot

from posewatch.ui.visit_form import FormLine, VisitForm
from posewatch.ui.visit_forms import Field, Form, FormRow, one_row

CTRL = Qt.KeyboardModifier.ControlModifier
PAIRS = Form(
    "how it was",
    (
        FormRow("front", (Field("comfort, front", hint="not asked"), Field("pain, front"))),
        one_row("why", "so"),
    ),
    lambda texts: (),
    ("0 = none",),
    ("comfort", "pain"),
)


class Desk:
    """Keeps what was typed. problem: what is wrong with it."""

    def __init__(self, qtbot: QtBot) -> None:
        self.kept: list[list[str]] = []
        self.left = 0
        self.problem = ""
        self.shortcuts: list[str] = []
        self.window = QWidget()
        self.form = VisitForm(self.keep, self.leave)
        QVBoxLayout(self.window).addWidget(self.form)
        for key in ("Return", "Ctrl+Return", "Escape", "Up", "Down", "P", "Space"):
            shortcut = QShortcut(key, self.window)
            shortcut.activated.connect(lambda key=key: self.shortcuts.append(key))
        qtbot.addWidget(self.window)
        with qtbot.waitExposed(self.window):
            self.window.show()
        self.window.activateWindow()
        qtbot.waitUntil(self.window.isActiveWindow)

    def keep(self, texts: Sequence[str]) -> str:
        self.kept.append(list(texts))
        return self.problem

    def leave(self) -> None:
        self.left += 1

    def press(self, key: Qt.Key, modifier: Qt.KeyboardModifier | None = None) -> None:
        focus = self.window.focusWidget() or self.window
        QTest.keyClick(focus, key, modifier or Qt.KeyboardModifier.NoModifier)

    def type(self, text: str) -> None:
        QTest.keyClicks(self.window.focusWidget(), text)

    @property
    def lines(self) -> list[QLineEdit]:
        return [one for one in self.form.findChildren(FormLine) if one.isVisible()]

    def texts(self) -> list[str]:
        return [one.text() for one in self.form.findChildren(QLabel) if one.isVisible()]


@pytest.fixture
def desk(qtbot: QtBot) -> Iterator[Desk]:
    made = Desk(qtbot)
    yield made
    made.window.hide()


def test_it_is_gone_through_by_return_and_kept_at_the_last_line(desk: Desk) -> None:
    desk.form.show_form(PAIRS)
    for text in ("7", "Pp 2"):
        desk.type(text)
        desk.press(Qt.Key.Key_Return)
    assert desk.kept == []
    desk.press(Qt.Key.Key_Return)
    assert desk.kept == [["7", "Pp 2", "so"]]
    assert desk.shortcuts == []


def test_ctrl_return_keeps_from_anywhere_and_escape_leaves(desk: Desk) -> None:
    desk.form.show_form(PAIRS)
    desk.press(Qt.Key.Key_Return, CTRL)
    assert desk.kept == [["", "", "so"]]
    desk.press(Qt.Key.Key_Escape)
    assert (desk.left, len(desk.kept)) == (1, 1)
    assert desk.shortcuts == []


def test_arrows_and_tab_go_from_field_to_field(desk: Desk) -> None:
    desk.form.show_form(PAIRS)
    seen = []
    for key in (Qt.Key.Key_Down, Qt.Key.Key_Down, Qt.Key.Key_Down, Qt.Key.Key_Up, Qt.Key.Key_Tab):
        desk.press(key)
        seen.append(desk.lines.index(desk.window.focusWidget()))  # type: ignore[arg-type]
    assert seen[:4] == [1, 2, 0, 2]
    assert desk.shortcuts == []


def test_what_is_wrong_is_told_and_what_was_typed_stays(desk: Desk) -> None:
    desk.problem = "No reason is given. Type why; it is kept."
    desk.form.show_form(PAIRS)
    desk.type("7")
    desk.press(Qt.Key.Key_Return, CTRL)
    assert desk.problem in desk.texts()
    assert desk.lines[0].text() == "7"
    desk.problem = ""
    desk.press(Qt.Key.Key_Return, CTRL)
    assert "No reason is given. Type why; it is kept." not in desk.texts()


def test_it_says_what_it_asks_and_every_field_has_a_name(desk: Desk) -> None:
    desk.form.show_form(PAIRS)
    for words in ("how it was", "0 = none", "comfort", "pain", "front", "why"):
        assert words in desk.texts()
    assert [one.accessibleName() for one in desk.lines] == ["comfort, front", "pain, front", "why"]
    assert desk.lines[0].placeholderText() == "not asked"


def test_the_next_form_begins_afresh_and_none_gives_the_keyboard_back(desk: Desk) -> None:
    desk.form.show_form(PAIRS)
    desk.type("7")
    desk.form.show_form(PAIRS)
    assert desk.lines[0].text() == "7", "the same form is left alone"
    other = Form("note", (one_row("note"),), lambda texts: ())
    desk.form.show_form(other)
    assert [one.text() for one in desk.lines] == [""]
    assert "how it was" not in desk.texts()
    desk.form.show_form(None)
    assert not desk.form.isVisible()
    assert not isinstance(desk.window.focusWidget(), QLineEdit)
    desk.press(Qt.Key.Key_P)
    assert desk.shortcuts == ["P"]
