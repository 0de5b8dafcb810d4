"""Sensors in the operator's window: their row, effort, the trainer and the meter by keys."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from made_live_sensors import TRAINER, AnsweringSensors
from made_operator_scenes import of_watch, said, shown, stands
from made_sensors import CRANK, pedalled
from operator_room import Room
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QLabel, QWidget
from pytestqt.qtbot import QtBot

from posewatch.core.outputs import CadenceDiffers, Measure, SmoothnessFlag
from posewatch.core.records import Effort
from posewatch.core.sensor_records import Packet
from posewatch.core.sensor_use import SensorUse
from posewatch.core.trainer_state import ControlState, Stage
from posewatch.core.watch_plan import WatchPlan
from posewatch.runtime.engine import Said
from posewatch.sensors.sensor_link import SensorStatus
from posewatch.ui.health_strip import HealthStrip
from posewatch.ui.operator_header import Fitted, OperatorHeader
from posewatch.ui.scene import Scene, SensorLine


@pytest.fixture
def room(qtbot: QtBot, tmp_path: Path) -> Iterator[Room]:
    made = Room(qtbot, tmp_path)
    yield made
    made.engine.busy = False


def with_trainer(room: Room, state: ControlState) -> AnsweringSensors:
    """A watch in which a trainer is to hold the power, and a meter measures it."""
    plan = WatchPlan(power_w=200.0, trainer_holds_power=True)
    live = AnsweringSensors(pedalled(CRANK, 0))
    live.state = state
    use = SensorUse(CRANK.platform_id, trainer=TRAINER.platform_id)
    room.studio.choose(plan=plan, sensors=use, trainer=TRAINER.choice)
    room.studio.live = live  # type: ignore[assignment]
    room.watch()
    return live


def sensed(seconds: float, **changes: object) -> Scene:
    """A scene of a watch with a sensor."""
    crank = SensorLine("Crank", "", 0.3, "", "power", "one side (left crank)")
    return replace(of_watch(stands(), seconds=seconds), sensors=(crank,), **changes)


def zeroable() -> SensorStatus:
    """A meter that offers its offset by radio: bit 9 of 2A65 (Bluetooth SIG)."""
    meter = pedalled(CRANK, 0)
    feature = Packet(1, CRANK.platform_id, "2A65", (1 << 9).to_bytes(4, "little"))
    return replace(meter, last={**meter.last, "2A65": feature})


WAITS = ControlState(unconfirmed_w=200, text="A raise from 0 to 200 W waits.")


def test_the_trainer_holds_by_two_keys_and_lets_go_by_one(room: Room, qtbot: QtBot) -> None:
    live = with_trainer(room, ControlState())
    room.show(sensed(1.0))
    room.press(qtbot, Qt.Key.Key_Y)
    assert "hold" not in str(live.told()), "yes to nothing does nothing"
    room.press(qtbot, Qt.Key.Key_H)
    assert live.told()[-1] == "hold 200 at None by Trainer"
    live.state = WAITS
    live.answer(live.told()[-1], WAITS)
    room.show(sensed(2.0))
    assert WAITS.text in room.texts()
    assert QApplication.activeModalWidget() is None
    room.press(qtbot, Qt.Key.Key_Y)
    assert live.told()[-1] == "confirm 200 by Trainer"
    live.state = ControlState(stage=Stage.HOLDING, held_w=200)
    room.show(sensed(3.0))
    assert WAITS.text not in room.texts()
    assert "trainer: holds 200 W" in room.texts()
    room.press(qtbot, Qt.Key.Key_H)
    assert live.told()[-1] == "release Trainer"


def test_the_keys_that_end_a_trial_never_raise_the_power(room: Room, qtbot: QtBot) -> None:
    live = with_trainer(room, WAITS)
    room.show(sensed(1.0))
    for key in (Qt.Key.Key_Return, Qt.Key.Key_Space, Qt.Key.Key_M, Qt.Key.Key_Z):
        room.press(qtbot, key)
    room.press(qtbot, Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier)
    assert not any("confirm" in str(what) for what in live.told())
    assert room.engine.post.stop.is_set()


def test_what_would_end_the_watch_is_asked_before_all_else(room: Room, qtbot: QtBot) -> None:
    live = with_trainer(room, WAITS)
    room.window.close()
    room.show(sensed(1.0))
    assert "end it and close?" in room.texts()
    assert WAITS.text not in room.texts()
    room.press(qtbot, Qt.Key.Key_Y)
    assert not room.engine.post.stop.is_set(), "that has a key of its own"
    assert not any("confirm" in str(what) for what in live.told())
    room.press(qtbot, Qt.Key.Key_Escape)
    room.show(sensed(2.0))
    assert WAITS.text in room.texts()


def test_the_meters_offset_is_asked_for_and_taken_by_keys(room: Room, qtbot: QtBot) -> None:
    live = with_trainer(room, ControlState())
    live.stands = (zeroable(),)
    room.show(sensed(1.0))
    room.press(qtbot, Qt.Key.Key_Z)
    assert "Take the zero offset of Crank now?" in room.texts()
    room.press(qtbot, Qt.Key.Key_Y)
    assert live.told()[-1] == "zero Crank"
    room.show(sensed(2.0))
    assert "Take the zero offset" not in room.texts()


def test_sensors_have_a_row_while_there_are_any(room: Room) -> None:
    def row() -> QWidget:
        strips = room.window.findChildren(HealthStrip)
        return next(one for one in strips if one.accessibleName() == "sensors")

    room.watch()
    room.show(of_watch(stands(), seconds=1.0))
    assert not row().isVisible()
    room.show(sensed(2.0))
    assert row().isVisible()
    assert row().accessibleDescription() == "Crank: power, one side (left crank), 0.3 s"


def test_effort_stands_in_the_header_with_its_plan_and_label(room: Room) -> None:
    room.watch()
    plan = WatchPlan(power_w=200.0, cadence_rpm=90.0)
    told = (Said(Effort(0, 206.4, math.nan), ()),)
    room.show(sensed(1.0, plan=plan, said=told))
    for words in ("206", "of 200 W, one side", "of 90 rpm"):
        assert words in room.texts()


def test_flags_of_the_trial_stay_when_the_messages_have_been_read(room: Room) -> None:
    room.watch()
    unsteady = said(SmoothnessFlag(0, Measure.POWER, 4.2), CadenceDiffers(0, 4.4))
    room.show(of_watch(stands(), seconds=1.0, said=(unsteady,)))
    assert any("the sensor's cadence is +4 rpm off" in one for one in room.rows("messages"))
    room.window._read()
    room.show(of_watch(stands(), seconds=2.0))
    assert "unsteady power, sensor's cadence differs" in room.texts()
    assert "counts all the same" in room.texts()


@pytest.mark.parametrize("size", [(1000, 620), (1280, 720), (1920, 1080)])
def test_nothing_in_the_header_is_cut_off(room: Room, qtbot: QtBot, size: tuple[int, int]) -> None:
    room.window.resize(*size)
    room.watch()
    long = replace(stands(pending=5, counted=120, goal=240), cadence_rpm=102.0)
    plan = WatchPlan(power_w=240.0, cadence_rpm=100.0)
    told = (Said(Effort(0, 1206.0, math.nan), ()),)
    room.show(replace(sensed(1.0, plan=plan, said=told), shown=shown(long)))
    QApplication.processEvents()
    header = room.window.findChildren(OperatorHeader)[0]
    for label in header.findChildren(QLabel):
        if isinstance(label, Fitted):
            assert label.share > 0.75, f"{label.text()} is too small to read"
            continue
        widest = max(map(label.fontMetrics().horizontalAdvance, label.text().split("\n")))
        assert widest <= label.width() + 1, label.text()
