"""The set-up window by keyboard, from consent to begin; and with a real engine on a recording."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import pytest
from linkage_rider import CHAIN
from made_setup_scenes import STEP_NS, StillEngine, grey, moment, scene_of, still_studio
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLabel, QLineEdit, QPushButton, QWidget
from pytestqt.qtbot import QtBot

from posewatch.core.capture import Subject
from posewatch.core.envelope import Target
from posewatch.core.needs import Need, Readiness
from posewatch.core.records import NS_PER_S
from posewatch.runtime import clock
from posewatch.runtime.engine import EngineState
from posewatch.store.remembered import Memory
from posewatch.store.settings import Settings
from posewatch.store.target_shelf import save_target
from posewatch.studio import Doing, Studio
from posewatch.ui.keys import Act
from posewatch.ui.scene import Switches
from posewatch.ui.scenes import SceneMaker
from posewatch.ui.setup_choices import CameraChoice
from posewatch.ui.setup_desk import Desk
from posewatch.ui.setup_view import Step
from posewatch.ui.setup_window import SetupWindow
from posewatch.ui.theme import LIGHT

SIDE = CameraChoice("cam-1", "Side & rear camera", "number 0", 0)
LAPTOP = CameraChoice("cam-2", "Laptop camera", "number 2", 2)


@dataclass
class Open:
    """An open window with a still engine."""

    window: SetupWindow
    desk: Desk
    studio: Studio
    engine: StillEngine
    now_ns: int = 1000 * NS_PER_S

    def polls(self, seconds: float = 0.2, switches: Switches | None = None) -> None:
        """Time passes; an open camera gives pictures."""
        for _ in range(round(seconds * 30)):
            if self.engine.state is EngineState.RUNNING:
                self.studio.post.shown = moment(self.now_ns, grey(0.5))
            self.window.show_scene(scene_of(self.studio, self.now_ns, switches=switches))
            self.now_ns += STEP_NS

    def main(self) -> QPushButton:
        return self.window.findChildren(QPushButton, "main")[0]

    def press(self, key: Qt.Key) -> None:
        focus = self.window.focusWidget()
        QTest.keyClick(focus or self.window, key)

    def shown(self) -> str:
        """All texts that are visible."""
        labels = [one for one in self.window.findChildren(QLabel) if one.isVisible()]
        return "\n".join(one.text() for one in labels)


Opened = Callable[..., Open]


@pytest.fixture
def opened(qtbot: QtBot, tmp_path: Path) -> Opened:
    def make(acts: dict[Act, Callable[[], None]] | None = None, **last: str) -> Open:
        memory = Memory(tmp_path / "remembered.json")
        if last:
            memory.keep(**last)
        studio, engine = still_studio(tmp_path / "data")
        desk = Desk(studio, memory, lambda: (SIDE, LAPTOP), lambda: 10**18 + made.now_ns)
        window = SetupWindow(desk, acts)
        qtbot.addWidget(window)
        window.resize(1280, 720)
        window.show()
        window.activateWindow()
        qtbot.waitUntil(window.isActiveWindow)
        made = Open(window, desk, studio, engine)
        made.polls()
        return made

    return make


@pytest.fixture
def target(ridden_target: Target, tmp_path: Path) -> Target:
    kept, _ = save_target(replace(ridden_target, rider="r17", bike="road"), tmp_path / "data")
    return kept


def test_by_keyboard_alone_from_the_beginning_to_begin(
    opened: Opened, qtbot: QtBot, target: Target
) -> None:
    it = opened()
    it.press(Qt.Key.Key_Space)
    assert it.desk.setup.step is Step.CONSENT
    QTest.keyClicks(it.window.focusWidget(), "r17")
    assert it.main().text() == "r17 has read this and agrees"
    it.press(Qt.Key.Key_Return)
    assert it.desk.setup.step is Step.CAMERA
    it.press(Qt.Key.Key_Down)
    it.polls()
    it.engine.opened(target.chain)
    assert not it.main().isEnabled()
    it.polls()
    assert it.main().text() == "Use Side && rear camera"
    it.press(Qt.Key.Key_Return)
    assert it.desk.setup.step is Step.PROFILE
    it.press(Qt.Key.Key_Down)
    assert it.main().text() == "Go on without a profile"
    it.press(Qt.Key.Key_Return)
    assert it.desk.setup.step is Step.TARGET
    it.press(Qt.Key.Key_Home)
    assert it.main().text() == "Use r17/road/hoods/v1"
    it.press(Qt.Key.Key_Return)
    assert it.desk.setup.step is Step.SENSORS
    assert it.main().text() == "Go on without sensors"
    it.press(Qt.Key.Key_Return)
    assert it.desk.setup.step is Step.READY
    it.polls(0.2)
    it.engine.opened(target.chain)
    it.polls(11.0)
    assert it.main().text() == "Begin, knowing of 1 gap"
    with qtbot.waitSignal(it.window.begin_wanted) as begun:
        it.press(Qt.Key.Key_Return)
        it.polls()
    assert begun.args == ["begun with gaps: camera profile: gap, uncalibrated: no millimetres"]
    assert it.studio.doing is Doing.NOTHING
    assert it.engine.started == [Doing.PREVIEW] * 2


def test_a_target_to_capture_leads_to_the_fitter_with_the_camera_closed(
    opened: Opened, qtbot: QtBot
) -> None:
    it = opened()
    it.desk.begin_new()
    it.desk.agree("r17")
    it.desk.pick_camera(SIDE)
    it.polls()
    it.engine.opened(CHAIN)
    it.polls()
    it.desk.go(Step.TARGET)
    it.polls()
    QTest.keyClicks(it.window.focusWidget(), "road")
    assert it.main().text() == "Capture r17/road/hoods"
    with qtbot.waitSignal(it.window.fitter_wanted) as wanted:
        it.main().click()
        it.polls()
    assert wanted.args == [Subject("r17", "road", "hoods")]
    assert it.studio.doing is Doing.NOTHING


def test_the_camera_key_is_a_letter_where_something_is_typed(opened: Opened) -> None:
    it = opened()
    it.desk.begin_new()
    it.polls()
    code = it.window.focusWidget()
    assert isinstance(code, QLineEdit)
    QTest.keyClicks(code, "Robo")
    assert code.text() == "Robo"
    assert it.desk.note == ""


def test_the_curtain_says_which_key_opens_the_camera(opened: Opened) -> None:
    it = opened()
    it.desk.begin_new()
    it.desk.agree("r17")
    it.desk.pick_camera(SIDE)
    it.polls()
    it.engine.opened(CHAIN)
    it.polls()
    picture = next(one for one in _all(it.window) if one.accessibleName() == "live picture")
    assert picture.accessibleDescription() == ""
    assert "64 x 48 px, 30 pictures a second handled; O closes it" in it.shown()
    it.press(Qt.Key.Key_O)
    it.polls()
    assert it.studio.doing is Doing.NOTHING
    assert picture.accessibleDescription() == ("the camera is closed\nO opens Side & rear camera")
    it.press(Qt.Key.Key_O)
    it.polls()
    assert it.studio.doing is Doing.PREVIEW


def test_back_is_always_possible_and_steps_can_be_gone_to(opened: Opened) -> None:
    it = opened()
    it.desk.begin_new()
    it.polls()
    buttons = it.window.findChildren(QPushButton, "step")
    assert [one.text()[:2] for one in buttons] == ["&1", "&2", "&3", "&4", "&5", "&6"]
    buttons[5].click()
    assert it.desk.setup.step is Step.READY
    back = next(one for one in it.window.findChildren(QPushButton) if one.text() == "&Back")
    seen = []
    while back.isVisible():
        back.click()
        seen.append(it.desk.setup.step)
    assert seen == [step for step in reversed(Step) if step < Step.READY]


def test_last_time_is_offered_and_another_camera_is_told(opened: Opened, target: Target) -> None:
    it = opened(camera="cam-1", camera_name="Side camera", target="r17/road/hoods/v1")
    it.press(Qt.Key.Key_Space)
    assert it.desk.setup.step is Step.READY
    assert it.main().text() == "Let the rider read and agree"
    it.press(Qt.Key.Key_Return)
    code = it.window.focusWidget()
    assert isinstance(code, QLineEdit)
    assert code.text() == "r17"
    it.press(Qt.Key.Key_Return)
    it.polls()
    assert it.main().text() == "Open Side && rear camera"
    it.desk.go(Step.CAMERA)
    it.desk.pick_camera(LAPTOP)
    it.polls()
    assert "This is not the camera you used last time (Side camera)." in it.shown()


def test_while_a_trial_runs_set_up_is_locked(opened: Opened, target: Target) -> None:
    it = opened(camera="cam-1", target="r17/road/hoods/v1")
    it.desk.begin_same()
    it.studio.watch()
    it.engine.opened(CHAIN)
    it.polls()
    assert "set-up waits for its end" in it.shown()
    assert not it.main().isEnabled()
    assert not any(one.isEnabled() for one in it.window.findChildren(QPushButton, "step"))
    it.studio.end()
    it.polls()
    assert it.main().isEnabled()


@pytest.mark.parametrize("step", list(Step))
def test_no_letter_leads_to_two_things(opened: Opened, step: Step) -> None:
    it = opened(camera="cam-1", target="r17/road/hoods/v1")
    it.desk.setup = replace(it.desk.setup, step=step)
    it.polls()
    buddies = [one for one in it.window.findChildren(QLabel) if one.buddy() is not None]
    parts = [*it.window.findChildren(QPushButton), *buddies]
    texts = [one.text().replace("&&", "") for one in parts if one.isVisible()]
    letters = [text[text.index("&") + 1].lower() for text in texts if "&" in text]
    assert letters
    assert len(set(letters)) == len(letters)


@pytest.mark.parametrize("step", list(Step))
def test_everything_has_a_name_and_is_reached_by_tab(opened: Opened, step: Step) -> None:
    it = opened()
    it.desk.begin_new()
    it.desk.setup = replace(it.desk.setup, step=step)
    it.polls()
    reached = set()
    for _ in range(60):
        it.press(Qt.Key.Key_Tab)
        reached.add(it.window.focusWidget())
    for one in _all(it.window):
        if one.isVisible() and one.isEnabled() and one.focusPolicy() & Qt.FocusPolicy.TabFocus:
            if one.parent() in reached or one.focusProxy() in reached:
                continue
            assert one in reached, one
            assert one.accessibleName() or getattr(one, "text", str)(), one


def test_the_theme_is_taken_over_and_nothing_is_modal(opened: Opened) -> None:
    it = opened()
    it.desk.begin_new()
    it.polls(switches=Switches(theme=LIGHT))
    assert it.window.grab().toImage().pixelColor(640, 500).name().upper() == LIGHT.ground
    assert QApplication.activeModalWidget() is None


def test_files_are_found_without_stopping_anything(opened: Opened) -> None:
    it = opened()
    it.desk.begin_new()
    it.desk.go(Step.CAMERA)
    it.polls()
    find = next(one for one in it.window.findChildren(QPushButton) if one.text() == "&File")
    find.click()
    assert QApplication.activeModalWidget() is None
    dialog = next(one for one in _all(it.window) if one.windowTitle() == "Clip or recording")
    dialog.close()


def test_the_programs_keys_work_in_this_window(opened: Opened) -> None:
    pressed = []
    it = opened(acts={Act.THEME: lambda: pressed.append("theme")})
    it.press(Qt.Key.Key_L)
    assert pressed == ["theme"]


def test_a_recording_is_looked_at_by_a_real_engine(
    qtbot: QtBot, tmp_path: Path, reference_recording: Path, ridden_target: Target
) -> None:
    """The target came from this very recording: it is of this chain, side and rider."""
    save_target(replace(ridden_target, rider="r17", bike="road"), tmp_path / "data")
    studio = Studio(Settings(data_folder=tmp_path / "data"))
    desk = Desk(studio, Memory(tmp_path / "remembered.json"), lambda: ())
    window = SetupWindow(desk)
    qtbot.addWidget(window)
    maker = SceneMaker(studio)

    def polled() -> bool:
        window.show_scene(maker.scene(Switches(), clock.monotonic_ns()))
        wanted = (Need.TARGET, Need.BODY, Need.SIDE)
        return all(one.level is Readiness.READY for one in desk.lines if one.need in wanted)

    try:
        desk.begin_new()
        desk.agree("r17")
        desk.type_camera(str(reference_recording))
        desk.use_profile("")
        desk.use_target(desk.targets[0])
        qtbot.waitUntil(polled, timeout=20_000)
        left: list[Doing] = []
        desk.leave(lambda: left.append(studio.doing))
        qtbot.waitUntil(lambda: polled() is not None and bool(left), timeout=10_000)
        assert left == [Doing.NOTHING]
        assert not studio.engine.is_busy
    finally:
        assert studio.close()


def _all(window: QWidget) -> list[QWidget]:
    return window.findChildren(QWidget)
