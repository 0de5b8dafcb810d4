"""Live sensors from a thread that may not wait, over a software stack on the thread ``sensors``."""

from __future__ import annotations

import asyncio
import threading
import time
from collections.abc import Callable, Coroutine, Iterator
from itertools import pairwise
from typing import Any

import pytest
from bumble_backend import VirtualStudio
from followed_sensors import SHORT
from virtual_sensor import POWER, POWER_MEASUREMENT, VirtualSensor, pedalling_power

from posewatch.core.records import SourceCondition, SourceState
from posewatch.core.sensor_choice import Sighting
from posewatch.core.sensor_link import Phase
from posewatch.core.sensor_records import Packet
from posewatch.core.sensor_source import SensorSource
from posewatch.core.timebase import to_ns
from posewatch.sensing import THREAD, LiveSensors


class Studio:
    """Live sensors and a virtual crank, which lives on the loop of the sensors' thread."""

    def __init__(self) -> None:
        self.virtual = VirtualStudio()
        self.sensors = LiveSensors(backend=self.virtual.backend, limits=SHORT)
        # The loop is known once the stack was used.
        self.sensors.survey(0.01).result(5.0)
        self.crank: VirtualSensor = self.on_loop(self._new_crank())

    async def _new_crank(self) -> VirtualSensor:
        sensor = self.virtual.add("Crank", POWER)
        await sensor.wake()
        sensor.start(POWER_MEASUREMENT, pedalling_power, 0.05)
        return sensor

    def on_loop(self, call: Coroutine[Any, Any, Any]) -> Any:
        """Let the air's loop do something."""
        assert self.virtual.loop is not None
        return asyncio.run_coroutine_threadsafe(call, self.virtual.loop).result(5.0)


@pytest.fixture
def studio() -> Iterator[Studio]:
    """A studio; whatever a test leaves running is ended."""
    studio = Studio()
    yield studio
    studio.sensors.close()


def wait(condition: Callable[[], object]) -> None:
    """Wait for what another thread brings about."""
    end_s = time.monotonic() + 5.0
    while not condition():
        assert time.monotonic() < end_s, "it did not come about in time"
        threading.Event().wait(0.005)


def phases(studio: Studio) -> list[Phase]:
    return [one.phase for one in studio.sensors.statuses()]


def test_found_chosen_and_heard_on_the_sessions_clock(studio: Studio) -> None:
    told: list[tuple[str, Sighting]] = []
    survey = studio.sensors.survey(
        0.2, lambda one: told.append((threading.current_thread().name, one))
    )
    (one,) = survey.result(5.0).seen
    assert (THREAD, one) in told
    studio.sensors.use(one.choice)
    # The battery is the last of the facts that are read; a first value may come before it.
    wait(lambda: phases(studio) == [Phase.LIVE] and "2A19" in studio.sensors.statuses()[0].last)
    source: SensorSource = studio.sensors
    known = source.begin(to_ns(100.0))
    assert [type(one) for one in known] == [SourceState, Packet, Packet, Packet]
    assert isinstance(known[0], SourceState)
    assert known[0].condition is SourceCondition.RUNNING
    assert {one.t_ns for one in known} == {to_ns(100.0)}
    begun_ns = time.monotonic_ns()
    events = []
    while len(events) < 5:
        threading.Event().wait(0.01)
        now_ns = to_ns(100.0) + time.monotonic_ns() - begun_ns
        events += source.taken(now_ns)
        assert all(event.t_ns <= now_ns for event in events)
    assert all(event.t_ns >= to_ns(100.0) for event in events)
    gaps_s = [(b.t_ns - a.t_ns) / 1e9 for a, b in pairwise(events)]
    assert all(0.0 <= gap <= 1.0 for gap in gaps_s)


def test_what_is_later_than_asked_waits(studio: Studio) -> None:
    studio.sensors.use(studio.sensors.survey(0.2).result(5.0).seen[0].choice)
    wait(lambda: phases(studio) == [Phase.LIVE])
    studio.sensors.begin(0)
    wait(lambda: studio.sensors.statuses()[0].n_packets > 10)
    assert studio.sensors.taken(0) == []
    assert studio.sensors.taken(to_ns(3600.0))


def test_a_sensor_can_be_swapped_for_another(studio: Studio) -> None:
    choice = studio.sensors.survey(0.2).result(5.0).seen[0].choice
    studio.sensors.use(choice)
    wait(lambda: studio.crank.n_links == 1)
    studio.sensors.forget(choice)
    wait(lambda: studio.crank.n_links == 0 and studio.sensors.statuses() == ())


def test_closing_lets_go_of_the_sensor_within_two_seconds(studio: Studio) -> None:
    studio.sensors.use(studio.sensors.survey(0.2).result(5.0).seen[0].choice)
    wait(lambda: phases(studio) == [Phase.LIVE])
    begun_s = time.monotonic()
    studio.sensors.close()
    assert time.monotonic() - begun_s < 2.0
    assert studio.virtual.links == []
    assert not [one for one in threading.enumerate() if one.name == THREAD]
    studio.sensors.close()


def test_closing_in_the_middle_of_a_connection_ends_in_time_too(studio: Studio) -> None:
    studio.crank.refuse(True)
    studio.sensors.use(studio.sensors.survey(0.2).result(5.0).seen[0].choice)
    wait(lambda: Phase.CONNECTING in phases(studio))
    begun_s = time.monotonic()
    studio.sensors.close()
    assert time.monotonic() - begun_s < 2.0
    assert not [one for one in threading.enumerate() if one.name == THREAD]


def test_before_the_session_begins_there_is_nothing_to_take(studio: Studio) -> None:
    with pytest.raises(RuntimeError, match="has not begun"):
        studio.sensors.taken(0)
