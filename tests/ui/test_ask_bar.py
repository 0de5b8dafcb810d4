"""A question in a window: it can be answered by keys and clicks, and hides nothing."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QPushButton, QVBoxLayout, QWidget
from pytestqt.qtbot import QtBot

from posewatch.ui.ask_bar import AskBar
from posewatch.ui.keys import Act
from posewatch.ui.question import Question


@pytest.fixture
def bar(qtbot: QtBot) -> Iterator[AskBar]:
    window = QWidget()
    qtbot.addWidget(window)
    made = AskBar()
    QVBoxLayout(window).addWidget(made)
    window.show()
    window.activateWindow()
    qtbot.waitUntil(window.isActiveWindow)
    yield made
    window.hide()


def question(answers: list[str], of: str = "") -> Question:
    def answer(word: str) -> Callable[[], None]:
        return lambda: answers.append(f"{word}{of}")

    return Question("Raise it?", "raise", "not now", Act.YES, answer("yes"), answer("no"))


def button(bar: AskBar, word: str) -> QPushButton:
    return next(one for one in bar.findChildren(QPushButton) if one.text().startswith(word))


def test_it_is_there_only_while_something_is_asked(bar: AskBar) -> None:
    assert bar.isHidden()
    bar.ask(question([]))
    assert bar.isVisible()
    assert bar.accessibleDescription() == "Raise it?"
    assert button(bar, "raise").text() == "raise  (Y)"
    assert button(bar, "not now").text() == "not now  (Esc)"
    bar.ask(None)
    assert bar.isHidden()
    assert bar.accessibleDescription() == ""


def test_escape_answers_no_and_only_while_something_is_asked(bar: AskBar, qtbot: QtBot) -> None:
    answers: list[str] = []
    bar.ask(question(answers))
    qtbot.keyClick(bar.window(), Qt.Key.Key_Escape)
    assert answers == ["no"]
    bar.ask(None)
    qtbot.keyClick(bar.window(), Qt.Key.Key_Escape)
    assert answers == ["no"]


def test_a_click_answers_and_takes_no_keyboard(bar: AskBar, qtbot: QtBot) -> None:
    answers: list[str] = []
    bar.ask(question(answers))
    for word in ("raise", "not now"):
        qtbot.mouseClick(button(bar, word), Qt.MouseButton.LeftButton)
        assert button(bar, word).focusPolicy() is Qt.FocusPolicy.NoFocus
    assert answers == ["yes", "no"]


def test_the_same_question_of_now_is_the_one_that_is_answered(bar: AskBar, qtbot: QtBot) -> None:
    answers: list[str] = []
    bar.ask(question(answers, " before"))
    bar.ask(question(answers, " now"))
    qtbot.mouseClick(button(bar, "raise"), Qt.MouseButton.LeftButton)
    assert answers == ["yes now"]
