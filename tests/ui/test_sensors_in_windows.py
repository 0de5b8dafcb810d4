"""Bluetooth sensors chosen at set-up, in a watch begun from the windows, over a software stack."""

from __future__ import annotations

import asyncio
import struct
from collections.abc import Callable, Coroutine, Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import virtual_sensor
from bumble_backend import VirtualStudio
from followed_sensors import SHORT
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot
from virtual_sensor import (
    BIKE_DATA,
    FITNESS_MACHINE,
    POWER,
    POWER_FEATURE,
    POWER_MEASUREMENT,
    VirtualSensor,
    bike_data,
)

from posewatch.core.envelope import Target
from posewatch.core.records import Command, Effort, SourceState
from posewatch.core.sensor_choice import SensorChoice
from posewatch.core.sensor_records import Packet
from posewatch.core.trainer_state import ControlLimits, Stage
from posewatch.runtime import clock
from posewatch.sensing import LiveSensors
from posewatch.store.remembered import Memory
from posewatch.store.session_reader import SessionReader
from posewatch.store.settings import Settings
from posewatch.studio import Chosen, Doing, Studio
from posewatch.ui import sensor_desk, sensor_plan
from posewatch.ui.application import Windows
from posewatch.ui.operator_acts import BOUNCE_NS
from posewatch.ui.scene import SensorLine
from posewatch.ui.sensor_plan import Role, SensorPlan
from posewatch.ui.setup_view import Step
from posewatch.ui.voice import Voice
from posewatch.watched_source import Source

LIMIT_MS = 20_000
#: Request control and set 200 W; lower to 50 W, stop and reset (Fitness Machine Control Point of
#: the Bluetooth SIG's Fitness Machine Service 1.0: op codes 0x00, 0x05, 0x08 01, 0x01).
HOLDING = [b"\x00", b"\x05\xc8\x00"]
LETTING_GO = [b"\x05\x32\x00", b"\x08\x01", b"\x01"]
#: With the addresses that the virtual studio gives its first two.
CRANK = SensorChoice("Crank", "F1:00:00:00:00:01")
TRAINER = SensorChoice("Trainer", "F1:00:00:00:00:02")
CTRL = Qt.KeyboardModifier.ControlModifier


def steady_power(n: int) -> bytes:
    """200 to 202 W, a revolution in 683/1024 s: 90 rpm."""
    return struct.pack("<HhHH", 0x20, 200 + n % 3, n % 65536, n * 683 % 65536)


class Air:
    """A crank and a trainer in the air of whatever live sensors are opened."""

    def __init__(self) -> None:
        self.virtual = VirtualStudio()
        self.before: list[VirtualStudio] = []
        self.opened: list[tuple[SensorChoice, ...]] = []
        self.crank: VirtualSensor
        self.trainer: VirtualSensor

    def open(self, choices: Sequence[SensorChoice] = ()) -> LiveSensors:
        self.opened.append(tuple(choices))
        if self.virtual.loop is not None:  # that of sensors which are closed
            self.before.append(self.virtual)
            self.virtual = VirtualStudio()
        limits = replace(SHORT, control=ControlLimits())
        live = LiveSensors(backend=self.virtual.backend, limits=limits)
        live.survey(0.01).result(5.0)  # the air is of the loop that first uses it
        self.on_loop(self._make())
        for choice in choices:
            live.use(choice)
        return live

    async def _make(self) -> None:
        self.crank = self.virtual.add("Crank", POWER)
        self.crank.answer = lambda _: b"\x20\x0c\x01\x40\x01"
        self.trainer = self.virtual.add("Trainer", FITNESS_MACHINE)
        self.trainer.answer = lambda data: bytes((0x80, data[0], 0x01))
        for sensor in (self.crank, self.trainer):
            await sensor.wake()
        self.crank.start(POWER_MEASUREMENT, steady_power, 0.05)
        self.trainer.start(BIKE_DATA, bike_data, 0.05)

    def on_loop(self, call: Coroutine[Any, Any, Any]) -> Any:
        """Let the air's loop do something."""
        assert self.virtual.loop is not None
        return asyncio.run_coroutine_threadsafe(call, self.virtual.loop).result(5.0)


class Sitting:
    """Windows in which sensors are chosen, and hands on the operator's keyboard."""

    def __init__(self, qtbot: QtBot, windows: Windows, air: Air) -> None:
        self.qtbot, self.windows, self.air = qtbot, windows, air
        self.studio = windows.studio
        self.chosen = windows.studio.chosen
        self._pressed_ns: dict[Qt.Key, int] = {}

    def begin(self, trainer_holds: bool) -> None:
        """Choose the sensors at set-up, and begin."""
        plan = SensorPlan(CRANK, None, CRANK, 200.0, 90.0)
        if trainer_holds:
            plan = sensor_plan.give(plan, Role.HOLD, TRAINER)
        self.windows.setup.desk.plan_sensors(plan)
        self.windows.setup.begin_wanted.emit("")
        self.until(self.windows.operator.isActiveWindow)

    def press(self, key: Qt.Key, modifier: Any = Qt.KeyboardModifier.NoModifier) -> None:
        """Press a key; a hand is not as fast as a switch that bounces."""
        last_ns = self._pressed_ns.get(key, -BOUNCE_NS)
        self.until(lambda: clock.monotonic_ns() - last_ns > BOUNCE_NS)
        self._pressed_ns[key] = clock.monotonic_ns()
        self.qtbot.keyClick(self.windows.operator, key, modifier)

    def until(self, what: Callable[[], object]) -> None:
        self.qtbot.waitUntil(lambda: bool(what()), timeout=LIMIT_MS)

    def line(self, name: str) -> SensorLine | None:
        scene = self.windows.operator._scene
        found = () if scene is None else scene.sensors
        return next((one for one in found if one.name == name), None)

    def is_live(self, name: str) -> bool:
        line = self.line(name)
        return line is not None and not line.state and line.age_s < 0.5

    def messages(self) -> str:
        return "\n".join(one.text for one in self.windows.operator._record.messages)

    def end_trial(self) -> None:
        self.press(Qt.Key.Key_Return, CTRL)
        self.until(lambda: self.studio.doing is Doing.NOTHING)


@pytest.fixture
def sitting(
    qtbot: QtBot,
    tmp_path: Path,
    reference_recording: Path,
    ridden_target: Target,
    monkeypatch: pytest.MonkeyPatch,
) -> Iterator[Sitting]:
    # Crank revolutions (bit 3) and the offset by radio (bit 9).
    features = struct.pack("<I", 1 << 3 | 1 << 9)
    monkeypatch.setitem(virtual_sensor._LAYOUT[POWER], POWER_FEATURE, features)
    air = Air()
    source = Source(reference_recording, "full", paced=True)
    studio = Studio(
        Settings(data_folder=tmp_path / "data"),
        Chosen(source, ridden_target),
        follow_live=air.open,
    )
    windows = Windows(studio, Memory(tmp_path / "remembered.json"), Voice())
    for window in (windows.operator, windows.rider, windows.setup, windows.fitter):
        qtbot.addWidget(window)
    windows._timer.start()
    windows.setup.show()
    yield Sitting(qtbot, windows, air)
    windows.end()
    for virtual in (air.virtual, *air.before):
        assert virtual.links == [], "all sensors are let go of"


def logged(studio: Studio) -> list[object]:
    assert studio.session is not None
    with SessionReader(studio.session) as session:
        return [item for _, item in session.inputs()]


def test_what_was_chosen_feeds_the_watch_and_stays_connected(sitting: Sitting) -> None:
    sitting.begin(trainer_holds=False)
    sitting.until(lambda: sitting.is_live("Crank"))
    line = sitting.line("Crank")
    assert line is not None
    assert (line.gives, line.whose) == ("power and cadence", "one side (left crank)")

    def power_is_judged() -> bool:
        shown = sitting.studio.post.shown
        live = () if shown is None or shown.standing is None else shown.standing.live
        return any(now.value.channel == "power" and abs(now.value.deviation) < 5 for now in live)

    sitting.until(power_is_judged)
    sitting.end_trial()
    items = logged(sitting.studio)
    assert any(isinstance(one, Packet) for one in items)
    efforts = [one for one in items if isinstance(one, Effort)]
    assert {one.power_w for one in efforts} <= {200.0, 201.0, 202.0}
    said = [one for one in items if isinstance(one, SourceState) and one.source == "Crank"]
    assert any(one.text == "Crank gives values." for one in said), "by its name, not its address"

    sitting.press(Qt.Key.Key_Return)
    sitting.until(lambda: sitting.studio.post.ready.is_set())
    assert sitting.is_live("Crank"), "the next trial finds it awake"
    (choices,) = sitting.air.opened
    assert [one.name for one in choices] == ["Crank"]


def test_from_the_scan_at_set_up_to_the_watch(
    sitting: Sitting, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sensor_desk, "SCAN_S", 0.5)
    setup, air = sitting.windows.setup, sitting.air
    desk = setup.desk
    desk.sensors._open_sensors = air.open
    desk.begin_new()
    desk.agree("r17")
    desk.go(Step.SENSORS)
    desk.scan_sensors()
    sitting.until(lambda: len(desk.sensors.rows) == 2)
    desk.sensors.pick(next(row.choice for row in desk.sensors.rows if row.choice.name == "Crank"))
    sitting.until(lambda: desk.sensors.card is not None and "90.0 rpm" in desk.sensors.card.value)
    card = desk.sensors.card
    assert card is not None
    given = sensor_plan.give_all(SensorPlan(power_w=200.0), card.choice, card.services)
    desk.plan_sensors(given)
    source, target = sitting.chosen.source, sitting.chosen.target

    def begin() -> None:
        sitting.studio.choose(source=source, target=target)
        setup.begin_wanted.emit("")

    desk.leave(begin)
    sitting.until(lambda: not desk.sensors.is_open)
    sitting.until(lambda: sitting.is_live("Crank"))
    assert [[one.name for one in choices] for choices in air.opened] == [[], ["Crank"]]
    assert air.before[0].links == []


def test_a_sensor_that_is_gone_is_told_with_its_reason(sitting: Sitting) -> None:
    sitting.begin(trainer_holds=False)
    sitting.until(lambda: sitting.is_live("Crank"))
    sitting.air.on_loop(sitting.air.crank.leave())
    sitting.until(lambda: not sitting.is_live("Crank"))
    sitting.until(lambda: "Crank was gone while it sent values" in sitting.messages())
    line = sitting.line("Crank")
    assert line is not None
    assert line.state
    sitting.air.crank.come_back()
    sitting.until(lambda: sitting.is_live("Crank"))
    sitting.until(lambda: "Crank gives values again after" in sitting.messages())


def test_the_trainer_holds_by_the_operators_keys_and_is_let_go_at_the_end(
    sitting: Sitting,
) -> None:
    sitting.begin(trainer_holds=True)
    trainer = sitting.studio.chosen.trainer
    assert trainer is not None
    sitting.until(lambda: sitting.is_live("Trainer"))
    written = sitting.air.trainer.written
    assert written == [], "nothing is held by itself"
    sitting.press(Qt.Key.Key_H)
    sitting.until(lambda: "A raise from 0 to 200 W" in _question(sitting))
    assert written == []
    sitting.press(Qt.Key.Key_Y)
    live = sitting.studio.live
    assert live is not None
    sitting.until(lambda: live.hold_state(trainer).stage is Stage.HOLDING)
    assert written == HOLDING
    sitting.until(lambda: "The trainer holds 200 W." in sitting.messages())
    sitting.end_trial()
    sitting.until(lambda: live.hold_state(trainer).stage is Stage.OFF)
    assert written == HOLDING + LETTING_GO
    holds = [
        one.text
        for one in logged(sitting.studio)
        if isinstance(one, SourceState) and one.source.startswith("power hold of")
    ]
    assert holds[0].startswith("The trainer holds 200 W.")


@pytest.mark.parametrize("how", ["key", "close", "fault"])
def test_whatever_ends_it_the_trainer_is_let_go(sitting: Sitting, how: str) -> None:
    sitting.begin(trainer_holds=True)
    sitting.until(lambda: sitting.is_live("Trainer"))
    sitting.press(Qt.Key.Key_H)
    sitting.until(lambda: _question(sitting))
    sitting.press(Qt.Key.Key_Y)
    live, trainer = sitting.studio.live, sitting.studio.chosen.trainer
    assert live is not None
    assert trainer is not None
    sitting.until(lambda: live.hold_state(trainer).stage is Stage.HOLDING)
    if how == "key":
        sitting.press(Qt.Key.Key_H)
        assert sitting.studio.doing is Doing.WATCH
    elif how == "close":
        sitting.windows.end()
    else:

        def fails(*_: object) -> bool:
            raise OSError("the log cannot be written")

        sitting.studio.post.health.note_log = fails  # type: ignore[method-assign]
    sitting.until(lambda: sitting.air.trainer.written == HOLDING + LETTING_GO)
    if how == "fault":
        sitting.until(lambda: sitting.studio.error is not None)


def test_the_meters_offset_is_taken_by_keys_and_logged(sitting: Sitting) -> None:
    sitting.begin(trainer_holds=False)
    sitting.until(lambda: sitting.is_live("Crank"))
    sitting.press(Qt.Key.Key_Z)
    assert "Take the zero offset of Crank now?" in _question(sitting)
    sitting.press(Qt.Key.Key_Y)
    sitting.until(lambda: "Zero offset of Crank:" in sitting.messages())
    assert sitting.air.crank.written == [b"\x0c"]
    sitting.end_trial()
    lines = [one.text for one in logged(sitting.studio) if isinstance(one, SourceState)]
    assert "Zero offset of Crank: 320 N (raw 320)." in lines
    sitting.press(Qt.Key.Key_Z)
    sitting.press(Qt.Key.Key_Y)
    sitting.until(lambda: len(sitting.air.crank.written) == 2)
    sitting.until(lambda: sitting.studio._to_log)
    sitting.press(Qt.Key.Key_Return)
    sitting.until(lambda: sitting.studio.post.ready.is_set())
    sitting.end_trial()
    marks = [one.text for one in logged(sitting.studio) if isinstance(one, Command)]
    assert marks == ["Zero offset of Crank: 320 N (raw 320)."]


def _question(sitting: Sitting) -> str:
    question = sitting.windows.operator._question()
    return "" if question is None else question.words
