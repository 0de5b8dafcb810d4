"""The step of the sensors in the set-up window, by keyboard: scan, look, use, swap, plan."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import pytest
from made_live_sensors import TRAINER
from made_sensors import CRANK, OTHER, SPEEDO, StillSensors, pedalled, status
from made_setup_scenes import STEP_NS, scene_of, still_studio
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QLabel, QLineEdit, QPushButton
from pytestqt.qtbot import QtBot

from posewatch.core.needs import Line, Need, Readiness
from posewatch.core.records import NS_PER_S
from posewatch.core.sensor_link import Phase
from posewatch.core.sensor_use import SensorUse
from posewatch.core.trainer_records import CAUTIONS
from posewatch.sensors.roster import Survey
from posewatch.store.remembered import Memory, RememberedSensor
from posewatch.studio import Studio
from posewatch.ui.setup_choices import CameraChoice
from posewatch.ui.setup_desk import Desk
from posewatch.ui.setup_view import Step
from posewatch.ui.setup_window import SetupWindow

CAMERA = CameraChoice("cam-1", "Side camera")
ALT, NONE = Qt.KeyboardModifier.AltModifier, Qt.KeyboardModifier.NoModifier


@dataclass
class Open:
    """An open window at the step of the sensors."""

    qtbot: QtBot
    window: SetupWindow
    desk: Desk
    studio: Studio
    memory: Memory
    air: StillSensors
    opened: list[bool]
    now_ns: int = 1000 * NS_PER_S

    def polls(self, seconds: float = 0.6) -> None:
        for _ in range(round(seconds * 30)):
            self.window.show_scene(scene_of(self.studio, self.now_ns))
            self.now_ns += STEP_NS

    def press(self, key: Qt.Key, modifier: Qt.KeyboardModifier = NONE) -> None:
        QTest.keyClick(self.window.focusWidget() or self.window, key, modifier)

    def push(self, key: Qt.Key, button: str) -> None:
        """Push a button by its letter; Qt lets go of it a moment later."""
        pushed: list[bool] = []
        found = self.button(button)
        found.clicked.connect(lambda: pushed.append(True))
        self.press(key, ALT)
        self.qtbot.waitUntil(lambda: bool(pushed))

    def type(self, text: str) -> None:
        QTest.keyClicks(self.window.focusWidget(), text)

    def main(self) -> QPushButton:
        return self.window.findChildren(QPushButton, "main")[0]

    def button(self, text: str) -> QPushButton:
        every = self.window.findChildren(QPushButton)
        return next(one for one in every if one.text().replace("&", "").startswith(text))

    def shown(self) -> str:
        labels = [one for one in self.window.findChildren(QLabel) if one.isVisible()]
        return "\n".join(one.text() for one in labels)

    def to_the_list(self) -> None:
        """Go by Tab to the list of sensors."""
        for _ in range(30):
            if self.window.focusWidget().accessibleName() == "sensors":
                return
            self.press(Qt.Key.Key_Tab)
        raise AssertionError("the list is not reached")

    def line(self) -> Line:
        return next(one for one in self.desk.lines if one.need is Need.SENSORS)

    def scan(self) -> None:
        """Scan by key; three sensors are heard."""
        self.push(Qt.Key.Key_S, "Scan")
        self.air.end_scan(Survey((CRANK, OTHER, SPEEDO)))
        self.polls()


@pytest.fixture
def at_sensors(qtbot: QtBot, tmp_path: Path) -> Iterator[Callable[..., Open]]:
    made: list[Open] = []

    def make(agreed: bool = True, **last: object) -> Open:
        memory = Memory(tmp_path / "remembered.json")
        if last:
            memory.keep(**last)
        studio, _ = still_studio(tmp_path / "data")
        air, opened = StillSensors(), list[bool]()

        def open_sensors() -> StillSensors:
            opened.append(True)
            return air

        desk = Desk(studio, memory, tuple, open_sensors=open_sensors)
        window = SetupWindow(desk)
        qtbot.addWidget(window)
        window.resize(1280, 720)
        window.show()
        window.activateWindow()
        qtbot.waitUntil(window.isActiveWindow)
        it = Open(qtbot, window, desk, studio, memory, air, opened)
        made.append(it)
        desk.begin_new()
        if agreed:
            desk.agree("r17")
        desk.go(Step.SENSORS)
        it.polls()
        return it

    yield make
    for it in made:
        it.window.hide()
    for thread in threading.enumerate():
        if thread.name == "sensors closing":
            thread.join(5.0)


def test_no_sensors_is_one_key_and_touches_nothing(at_sensors: Callable[..., Open]) -> None:
    it = at_sensors()
    assert "No sensors is a normal choice" in it.shown()
    assert it.main().text() == "Go on without sensors"
    it.press(Qt.Key.Key_Return)
    assert it.desk.setup.sensors_known
    assert it.desk.setup.step is Step.CAMERA  # the first step in which something is open
    it.polls(2.0)
    assert it.opened == []
    assert it.studio.chosen.sensors == SensorUse()


def test_a_sensor_is_heard_looked_at_and_used(at_sensors: Callable[..., Open]) -> None:
    it = at_sensors()
    it.scan()
    it.to_the_list()
    it.press(Qt.Key.Key_Down)
    it.polls()
    assert it.air.done == ["survey", "use Crank"]
    for turns in (1, 2):
        it.air.stands[CRANK.platform_id] = pedalled(CRANK, it.now_ns, turns=turns)
        it.polls(1.0)
    for words in ("210 W, 60.0 rpm", "80 %", "one side (left crank)", "strong signal, -55 dBm"):
        assert words in it.shown()
    assert it.main().text() == "Go on without sensors"
    it.press(Qt.Key.Key_Return)
    assert it.main().text() == "Use Crank"
    assert it.desk.setup.step is Step.SENSORS
    names = ((CRANK.platform_id, "Crank"),)
    both = SensorUse(CRANK.platform_id, CRANK.platform_id, names=names)
    assert it.studio.chosen.sensors == both
    it.press(Qt.Key.Key_Return)
    assert it.desk.setup.step is not Step.SENSORS
    it.polls()
    assert it.line().level is Readiness.READY
    assert it.line().words == "power and cadence from Crank, live"
    it.air.stands[CRANK.platform_id] = status(CRANK, Phase.SILENT, "Turn the cranks.")
    it.polls()
    assert (it.line().level, it.line().advice) == (Readiness.GAP, "Turn the cranks.")


def test_which_gives_what_is_chosen_swapped_and_forgotten(at_sensors: Callable[..., Open]) -> None:
    it = at_sensors()
    it.scan()
    it.to_the_list()
    it.press(Qt.Key.Key_Down)
    it.polls()
    it.push(Qt.Key.Key_P, "Power")
    names = {"names": ((CRANK.platform_id, "Crank"),)}
    assert it.studio.chosen.sensors == SensorUse(CRANK.platform_id, **names)
    assert not it.button("Power from it").isEnabled()
    it.to_the_list()
    it.press(Qt.Key.Key_Down)
    it.polls()
    it.push(Qt.Key.Key_A, "Add")
    assert it.studio.chosen.sensors.power_other_side == OTHER.platform_id
    it.to_the_list()
    it.press(Qt.Key.Key_Down)
    it.polls()
    assert not it.button("Power from it").isEnabled()  # it offers speed and cadence only
    it.push(Qt.Key.Key_C, "Cadence")
    use = it.studio.chosen.sensors
    assert (use.power, use.cadence) == (CRANK.platform_id, SPEEDO.platform_id)
    assert use.power_other_side == OTHER.platform_id
    assert [one.name for one in use.choices] == ["Crank", "Other crank", "Cadence"]
    assert "power: Crank; the other side's power: Other crank; cadence: Cadence" in it.shown()
    it.push(Qt.Key.Key_F, "Forget")
    assert it.studio.chosen.sensors.cadence == ""
    assert "cadence: from the pedalling itself" in it.shown()


def test_power_and_cadence_are_planned_by_typing(at_sensors: Callable[..., Open]) -> None:
    it = at_sensors()
    it.press(Qt.Key.Key_W, ALT)
    it.type("180")
    assert it.studio.chosen.plan.power_w == 180.0
    assert not it.main().isEnabled()
    assert "let a sensor give the power, or plan none" in it.shown()
    it.press(Qt.Key.Key_Backspace)
    it.press(Qt.Key.Key_Backspace)
    it.press(Qt.Key.Key_Backspace)
    assert it.studio.chosen.plan.power_w is None
    it.press(Qt.Key.Key_D, ALT)
    it.type("9")
    assert "the cadence is a number from 40 to 200 rpm" in it.shown()
    assert not it.main().isEnabled()
    it.type("0")
    assert it.main().isEnabled()
    assert it.studio.chosen.plan.cadence_rpm == 90.0
    it.press(Qt.Key.Key_Return)
    assert it.desk.setup.sensors_known


def test_a_trainer_holds_the_power_once_it_is_chosen_with_its_cautions_in_sight(
    at_sensors: Callable[..., Open],
) -> None:
    it = at_sensors()
    it.push(Qt.Key.Key_S, "Scan")
    it.air.end_scan(Survey((TRAINER, CRANK)))
    it.polls()
    it.to_the_list()
    it.press(Qt.Key.Key_Down)
    it.polls()
    assert not it.studio.chosen.plan.trainer_holds_power, "it is off at first"
    assert CAUTIONS[0] not in it.shown()
    it.push(Qt.Key.Key_L, "Let it hold")
    for caution in CAUTIONS:
        assert caution in it.shown()
    assert "plan the power that the trainer is to hold" in it.shown()
    assert not it.main().isEnabled()
    it.push(Qt.Key.Key_P, "Power")
    it.press(Qt.Key.Key_W, ALT)
    it.type("180")
    it.polls()
    assert it.main().isEnabled()
    chosen = it.studio.chosen
    assert chosen.plan.trainer_holds_power
    assert chosen.trainer == TRAINER.choice
    assert chosen.sensors.trainer == TRAINER.platform_id
    it.push(Qt.Key.Key_F, "Forget")
    assert it.studio.chosen.trainer is None
    assert CAUTIONS[0] not in it.shown()


def test_without_bluetooth_one_goes_on(at_sensors: Callable[..., Open]) -> None:
    it = at_sensors()
    it.push(Qt.Key.Key_S, "Scan")
    assert not it.button("Scan").isEnabled()
    it.air.end_scan(Survey(obstacle=Phase.NO_ADAPTER))
    it.polls()
    assert "This computer has no Bluetooth for such sensors." in it.shown()
    assert "You can go on without sensors." in it.shown()
    assert it.button("Scan").isEnabled()
    assert it.main().isEnabled()


def test_bluetooth_stays_off_until_the_rider_has_agreed(at_sensors: Callable[..., Open]) -> None:
    it = at_sensors(agreed=False)
    it.push(Qt.Key.Key_S, "Scan")
    it.polls()
    assert it.opened == []
    assert "until the rider has agreed" in it.shown()


def test_the_sensors_of_last_time_are_looked_for_once_the_rider_has_agreed(
    at_sensors: Callable[..., Open],
) -> None:
    crank = RememberedSensor(name="Crank", platform_id=CRANK.platform_id)
    it = at_sensors(agreed=False, power_sensor=crank, power_w=180.0)
    it.desk.begin_same()
    it.polls()
    assert it.opened == []
    assert it.studio.chosen.plan.power_w == 180.0
    assert it.line().level is Readiness.UNCHECKED
    it.desk.setup = replace(it.desk.setup, rider="r17")
    it.desk.agree("r17")
    it.polls()
    assert it.air.done == ["use Crank"]


def test_leaving_remembers_the_sensors_and_lets_go_of_them_first(
    at_sensors: Callable[..., Open], qtbot: QtBot
) -> None:
    it = at_sensors()
    it.desk.setup = replace(it.desk.setup, camera=CAMERA)
    it.scan()
    it.to_the_list()
    it.press(Qt.Key.Key_Down)
    it.polls()
    it.push(Qt.Key.Key_P, "Power")
    left: list[list[str]] = []
    it.desk.leave(lambda: left.append(list(it.air.done)))

    def gone() -> bool:
        it.polls(0.1)
        return bool(left)

    qtbot.waitUntil(gone)
    assert left[0][-1] == "close on sensors closing"
    kept = Memory(it.memory.path).choices
    assert kept.power_sensor == RememberedSensor(name="Crank", platform_id=CRANK.platform_id)
    assert kept.cadence_sensor is None


def test_a_window_that_is_hidden_lets_go_of_bluetooth(
    at_sensors: Callable[..., Open], qtbot: QtBot
) -> None:
    it = at_sensors()
    it.scan()
    it.window.hide()
    assert not it.desk.sensors.is_open
    qtbot.waitUntil(lambda: it.air.done[-1].startswith("close"))


def test_typing_is_not_overwritten_by_a_poll(at_sensors: Callable[..., Open]) -> None:
    it = at_sensors()
    it.press(Qt.Key.Key_D, ALT)
    it.type("4")
    it.polls(1.0)
    field = it.window.focusWidget()
    assert isinstance(field, QLineEdit)
    assert field.text() == "4"
