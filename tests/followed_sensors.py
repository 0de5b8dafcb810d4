"""Sensors in virtual air, followed by the program with limits that suit a test."""

from __future__ import annotations

import asyncio
import time
from collections import Counter
from collections.abc import Callable

from bumble_backend import VirtualStudio
from virtual_sensor import VirtualSensor

from posewatch.core.meter_offset import OffsetPlan
from posewatch.core.records import SourceCondition, SourceState
from posewatch.core.sensor_choice import SensorChoice
from posewatch.core.sensor_link import LinkLimits, Phase
from posewatch.core.sensor_records import Packet
from posewatch.core.sensor_source import SensorEvent
from posewatch.core.trainer_cadence import CadenceLimits
from posewatch.core.trainer_state import ControlLimits
from posewatch.sensors.calls import CallLimits
from posewatch.sensors.roster import Roster, RosterLimits
from posewatch.sensors.sensor_link import SensorStatus

#: The limits of the program, about ten times shorter; virtual sensors send at 20 to 40 Hz.
SHORT = RosterLimits(
    LinkLimits(
        silent_s=0.4,
        pauses_s=(0.02, 0.05, 0.1),
        blocked_s=0.1,
        patience_s=1.5,
        rest_s=0.5,
        fresh_s=0.15,
    ),
    CallLimits(scan_call_s=1.0, open_s=0.6, call_s=0.5, probe_s=0.2, close_s=0.3),
    look_s=0.3,
    grace_s=0.03,
    control=ControlLimits(
        answer_s=0.3,
        release_s=0.15,
        hurry_s=0.1,
        confirm_s=1.0,
        cadence=CadenceLimits(slow_s=0.2, unheard_s=1.0),
    ),
    offset=OffsetPlan(answer_s=0.4),
)
#: A sensor that is there again is live again within this (the program's own limit).
BACK_S = 5.0


async def eventually(condition: Callable[[], object], within_s: float = BACK_S) -> None:
    """Let the loop run until something holds."""
    end_s = time.monotonic() + within_s
    while not condition():
        assert time.monotonic() < end_s, "it did not come about in time"
        await asyncio.sleep(0.005)


class Followed:
    """A studio, a roster that follows sensors in it, and all that came from them."""

    def __init__(self) -> None:
        self.studio = VirtualStudio()
        self.events: list[SensorEvent] = []
        self.roster = Roster(time.monotonic_ns, self.events.append, self.studio.backend, SHORT)

    async def use(self, *sensors: VirtualSensor) -> None:
        """Follow sensors and wait until all are live."""
        for one in sensors:
            await self.roster.use(SensorChoice(one.name, one.address))
        await eventually(lambda: all(self.phase(one) is Phase.LIVE for one in sensors))

    def status(self, sensor: VirtualSensor) -> SensorStatus:
        """How a sensor stands."""
        (status,) = [one for one in self.roster.statuses() if one.name == sensor.name]
        return status

    def phase(self, sensor: VirtualSensor) -> Phase:
        """The phase of a sensor."""
        return self.status(sensor).phase

    async def comes_to(self, sensor: VirtualSensor, *phases: Phase) -> None:
        """Wait until a sensor is in one of these phases."""
        await eventually(lambda: self.phase(sensor) in phases)

    def values(self, sensor: VirtualSensor, characteristic: str) -> list[bytes]:
        """What came of one characteristic, in order."""
        return [
            one.data
            for one in self.events
            if isinstance(one, Packet)
            and (one.device, one.characteristic) == (sensor.address, characteristic)
        ]

    def conditions(self, sensor: VirtualSensor) -> list[SourceCondition]:
        """What the sensor was said to be, in order."""
        return [one.condition for one in self.said(sensor)]

    def said(self, sensor: VirtualSensor) -> list[SourceState]:
        """What was said of a sensor."""
        return [
            one for one in self.events if isinstance(one, SourceState) and one.source == sensor.name
        ]

    def check_stream(self, sensor: VirtualSensor, characteristic: str) -> None:
        """All that came was sent, in that order, and nothing came twice."""
        came = self.values(sensor, characteristic)
        assert came
        assert not Counter(came) - Counter(sensor.sent), "something came that was not sent so often"
        places = iter(sensor.sent)
        assert all(one in places for one in came), "not in the order of sending"
        times = [one.t_ns for one in self.events]
        assert times == sorted(times)

    def check_air(self) -> None:
        """Never more than one scan or attempt to connect at a time."""
        assert self.studio.most_busy == 1
        assert self.studio.busy in (0, 1)
