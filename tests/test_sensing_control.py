"""A held trainer and live sensors that are closed: let go first, and in time."""

from __future__ import annotations

import asyncio
import threading
import time
from collections.abc import Callable, Coroutine, Iterator
from dataclasses import replace
from typing import Any

import pytest
from bumble_backend import VirtualStudio
from followed_sensors import SHORT
from virtual_sensor import BIKE_DATA, FITNESS_MACHINE, VirtualSensor, bike_data

from posewatch.core.records import SourceCondition, SourceState
from posewatch.core.sensor_choice import SensorChoice
from posewatch.core.sensor_link import Phase
from posewatch.core.sensor_source import SensorEvent
from posewatch.core.trainer_state import ControlLimits, Stage
from posewatch.sensing import LiveSensors

LETTING_GO = [b"\x05\x32\x00", b"\x08\x01", b"\x01"]


class Studio:
    """Live sensors with the program's own limits of control, and a trainer on their loop."""

    def __init__(self) -> None:
        self.virtual = VirtualStudio()
        limits = replace(SHORT, control=ControlLimits())
        self.sensors = LiveSensors(backend=self.virtual.backend, limits=limits)
        self.sensors.survey(0.01).result(5.0)
        self.trainer: VirtualSensor = self.on_loop(self._new_trainer())
        self.choice = SensorChoice(self.trainer.name, self.trainer.address)
        self.sensors.use(self.choice)
        end_s = time.monotonic() + 5.0
        while [one.phase for one in self.sensors.statuses()] != [Phase.LIVE]:
            assert time.monotonic() < end_s
            threading.Event().wait(0.005)

    async def _new_trainer(self) -> VirtualSensor:
        sensor = self.virtual.add("Trainer", FITNESS_MACHINE)
        sensor.answer = lambda data: bytes((0x80, data[0], 0x01))
        await sensor.wake()
        sensor.start(BIKE_DATA, bike_data, 0.05)
        return sensor

    def on_loop(self, call: Coroutine[Any, Any, Any]) -> Any:
        """Let the air's loop do something."""
        assert self.virtual.loop is not None
        return asyncio.run_coroutine_threadsafe(call, self.virtual.loop).result(5.0)

    def hold(self) -> None:
        """Let the trainer hold 150 W."""
        self.sensors.hold_power(self.choice, 150).result(5.0)
        state = self.sensors.hold_power(self.choice, 150, confirmed=True).result(5.0)
        assert state == self.sensors.hold_state(self.choice)
        assert state.stage is Stage.HOLDING


@pytest.fixture
def studio() -> Iterator[Studio]:
    """A studio; whatever a test leaves running is ended."""
    studio = Studio()
    yield studio
    studio.sensors.close()


def test_the_first_call_only_asks_and_release_lets_go(studio: Studio) -> None:
    studio.hold()
    state = studio.sensors.release(studio.choice).result(5.0)
    assert state.stage is Stage.OFF
    assert studio.trainer.written[2:] == LETTING_GO


def test_a_session_that_begins_is_told_that_the_trainer_holds(studio: Studio) -> None:
    assert {one.source for one in states(studio.sensors.begin(7))} == {"Trainer"}
    studio.hold()
    hold = states(studio.sensors.begin(9))[-1]
    assert (hold.t_ns, hold.source) == (9, "power hold of Trainer")
    assert hold.condition is SourceCondition.RUNNING
    assert hold.text.startswith("The trainer holds 150 W.")


def states(events: list[SensorEvent]) -> list[SourceState]:
    return [one for one in events if isinstance(one, SourceState)]


@pytest.mark.parametrize(
    "answer", [lambda data: bytes((0x80, data[0], 0x01)), lambda _: None], ids=["willing", "mute"]
)
def test_closing_lets_go_of_a_held_trainer_within_two_seconds(
    studio: Studio, answer: Callable[[bytes], bytes | None]
) -> None:
    studio.hold()
    studio.trainer.answer = answer
    begun_s = time.monotonic()
    studio.sensors.close()
    assert time.monotonic() - begun_s < 2.0
    assert studio.trainer.written[2:] == LETTING_GO
    assert studio.virtual.links == []


def test_closing_while_a_trainer_has_faded_ends_in_time_too(studio: Studio) -> None:
    studio.hold()
    studio.trainer.fade()
    begun_s = time.monotonic()
    studio.sensors.close()
    assert time.monotonic() - begun_s < 2.5
    assert studio.virtual.links == []
