"""Set-up's page for visits, by its keys: a first look, a plan, one that was left."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import pytest
from conducted import Conducted, Times, new_visit, small_design
from made_codes import CHEAP, NAMES
from made_setup_scenes import scene_of, still_studio
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLabel, QLineEdit, QPushButton, QWidget
from pytestqt.qtbot import QtBot

from posewatch.core.envelope import Target
from posewatch.core.records import NS_PER_S
from posewatch.store.remembered import Memory
from posewatch.store.target_shelf import save_target
from posewatch.store.visit_record import read_visit
from posewatch.trials import acts
from posewatch.ui.setup_desk import Desk
from posewatch.ui.setup_view import Step
from posewatch.ui.setup_window import SetupWindow
from posewatch.ui.visit_choice import NONE, VisitChoice

ALT = Qt.KeyboardModifier.AltModifier


@dataclass
class Open:
    """An open set-up window on the page of visits."""

    window: SetupWindow
    desk: Desk
    qtbot: QtBot
    now_ns: int = 1000 * NS_PER_S

    def poll(self) -> None:
        self.window.show_scene(scene_of(self.desk.studio, self.now_ns))
        self.now_ns += NS_PER_S

    def press(self, key: Qt.Key) -> None:
        QTest.keyClick(self.window.focusWidget() or self.window, key)
        self.poll()

    def alt(self, key: Qt.Key, comes: Callable[[], bool]) -> None:
        """Press a button or go to a field by its letter; the button stays down for a moment."""
        QTest.keyClick(self.window.focusWidget() or self.window, key, ALT)
        self.qtbot.waitUntil(comes, timeout=5000)
        self.poll()

    @property
    def is_typing(self) -> bool:
        return isinstance(self.window.focusWidget(), QLineEdit)

    def type(self, text: str) -> None:
        line = self.window.focusWidget()
        assert isinstance(line, QLineEdit)
        QTest.keyClicks(line, text)
        self.poll()

    def main(self) -> QPushButton:
        return self.window.findChildren(QPushButton, "main")[0]

    def shown(self) -> str:
        labels = [one for one in self.window.findChildren(QLabel) if one.isVisible()]
        buttons = [one for one in self.window.findChildren(QPushButton) if one.isVisible()]
        return "\n".join(one.text() for one in (*labels, *buttons))


@pytest.fixture
def opened(qtbot: QtBot, tmp_path: Path, ridden_target: Target) -> Callable[[], Open]:
    def make() -> Open:
        for hands in ("hoods", "drops"):
            save_target(replace(ridden_target, hands=hands), tmp_path / "data")
        studio, _ = still_studio(tmp_path / "data")
        desk = Desk(studio, Memory(tmp_path / "remembered.json"), lambda: ())
        desk.visits = VisitChoice(studio, cost=CHEAP)
        window = SetupWindow(desk)
        qtbot.addWidget(window)
        window.resize(1280, 720)
        window.show()
        window.activateWindow()
        qtbot.waitUntil(window.isActiveWindow)
        it = Open(window, desk, qtbot)
        it.poll()
        return it

    return make


def on_page(it: Open) -> Open:
    desk = it.desk
    desk.begin_new()
    desk.agree("rider")
    desk.use_target(next(one for one in desk.targets if one.hands == "hoods"))
    desk.go(Step.READY)
    it.poll()
    it.alt(Qt.Key.Key_V, lambda: desk.setup.step is Step.VISIT)
    return it


def test_the_readiness_list_leads_to_it_and_says_what_is_chosen(
    opened: Callable[[], Open],
) -> None:
    it = opened()
    it.desk.begin_new()
    it.desk.go(Step.READY)
    it.poll()
    assert NONE in it.shown()
    on_page(it)
    assert it.main().text() == "Go without a visit"
    back = next(one for one in it.window.findChildren(QPushButton) if one.text() == "&Back")
    back.click()
    assert it.desk.setup.step is Step.READY


def test_a_first_look_by_one_key_and_its_slip_is_not_lost_by_another(
    opened: Callable[[], Open],
) -> None:
    it = on_page(opened())
    it.press(Qt.Key.Key_Down)
    assert it.main().text() == "Make the first look"
    it.press(Qt.Key.Key_Return)
    slip = it.desk.visits.slip
    assert slip is not None
    assert slip.passphrase in it.shown()
    for code, letter in slip.labels:
        assert f"label {code}   goes onto item {letter} of the rider's card" in it.shown()
    for _ in range(3):
        it.press(Qt.Key.Key_Return)
    assert it.desk.visits.slip is slip, "it has to be written down first"
    it.type(slip.passphrase[-5:])
    it.press(Qt.Key.Key_Return)
    assert it.desk.visits.slip is None
    assert it.desk.setup.step is not Step.VISIT
    assert it.desk.visits.words.startswith("first look, ")
    for part in it.window.findChildren(QWidget):
        assert slip.passphrase not in str(getattr(part, "text", str)())
    assert QApplication.activeModalWidget() is None


def test_names_are_neither_shown_nor_left_in_the_fields(opened: Callable[[], Open]) -> None:
    it = on_page(opened())
    it.press(Qt.Key.Key_Down)
    fields = [
        one for one in it.window.findChildren(QLineEdit) if "name of item" in one.accessibleName()
    ]
    for field, name in zip(fields, NAMES, strict=False):
        assert field.echoMode() is QLineEdit.EchoMode.PasswordEchoOnEdit
        field.setText(name)
    it.press(Qt.Key.Key_Return)
    assert it.desk.visits.slip is not None
    assert all(field.text() == "" for field in fields)
    for name in NAMES:
        assert name not in it.shown()


def test_a_plan_of_ones_own(opened: Callable[[], Open], tmp_path: Path) -> None:
    it = on_page(opened())
    it.press(Qt.Key.Key_Down)
    it.press(Qt.Key.Key_Down)
    assert it.main().text() == "Use this plan"
    it.press(Qt.Key.Key_Return)
    assert "No plan is given." in it.shown()
    new = new_visit(tmp_path, small_design())
    it.alt(Qt.Key.Key_P, lambda: it.is_typing)
    it.type(str(new.plan_path))
    it.press(Qt.Key.Key_Return)
    assert it.desk.visits.words == "visit 1 of 1 of plan.json, 2 mountings"
    assert it.desk.setup.step is not Step.VISIT


def leave(tmp_path: Path, times: Times) -> None:
    folder = tmp_path / "left"
    folder.mkdir()
    at = Conducted(folder, times)
    at.begin()
    at.visit.close()
    sessions = tmp_path / "data" / "sessions"
    sessions.mkdir(parents=True)
    at.visit.folder.rename(sessions / "visit")


def test_a_visit_that_was_left_is_offered_at_the_beginning(
    opened: Callable[[], Open], tmp_path: Path, times: Times
) -> None:
    leave(tmp_path, times)
    it = opened()
    assert "&Go on with the visit that was left" in it.shown()
    assert "0 of 4 trials ridden" in it.shown()
    it.press(Qt.Key.Key_Space)
    assert it.desk.setup.step is Step.CONSENT
    assert it.desk.visits.wanted is not None
    assert it.desk.visits.wanted.folder == tmp_path / "data" / "sessions" / "visit"


def test_or_closed_with_a_reason(opened: Callable[[], Open], tmp_path: Path, times: Times) -> None:
    leave(tmp_path, times)
    it = opened()
    it.alt(Qt.Key.Key_C, lambda: it.desk.setup.step is Step.VISIT)
    assert it.main().text() == "Go on with it"
    it.alt(Qt.Key.Key_C, lambda: "It is not said why the visit ends." in it.shown())
    it.alt(Qt.Key.Key_S, lambda: it.is_typing)
    it.type("rider ill")
    it.alt(Qt.Key.Key_C, lambda: "Closed: " in it.shown())
    assert it.main().text() == "Go without a visit"
    ended = read_visit(tmp_path / "data" / "sessions" / "visit")[1][-1].act
    assert isinstance(ended, acts.VisitEnded)
    assert ended.reason == "rider ill"


def test_nothing_is_offered_where_nothing_was_left(opened: Callable[[], Open]) -> None:
    assert "that was left" not in opened().shown()
