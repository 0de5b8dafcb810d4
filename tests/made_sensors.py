"""Sensors for set-up without Bluetooth: what is heard and how links stand is as the test says."""

from __future__ import annotations

import concurrent.futures
import threading
from collections.abc import Callable

from posewatch.core.records import NS_PER_S
from posewatch.core.sensor_choice import SensorChoice, Service, Sighting
from posewatch.core.sensor_link import Phase
from posewatch.core.sensor_records import Packet
from posewatch.sensors.roster import Survey
from posewatch.sensors.sensor_link import SensorStatus

CRANK = Sighting("Crank", "AA:00:00:00:00:01", -55, frozenset({Service.POWER}))
OTHER = Sighting("Other crank", "AA:00:00:00:00:02", -70, frozenset({Service.POWER}))
SPEEDO = Sighting("Cadence", "AA:00:00:00:00:03", -80, frozenset({Service.SPEED_AND_CADENCE}))
STRAP = Sighting("Strap", "AA:00:00:00:00:04", None, frozenset({Service.HEART_RATE}))


class StillSensors:
    """Live sensors that do nothing by themselves.

    done: what was asked, in order. stands: how each sensor that is followed stands, by its id.
    """

    def __init__(self) -> None:
        self.done: list[str] = []
        self.stands: dict[str, SensorStatus] = {}
        self.may_close = threading.Event()
        self.may_close.set()
        self.followed: list[SensorChoice] = []
        self._saw: Callable[[Sighting], None] = lambda _: None
        self._survey: concurrent.futures.Future[Survey] = concurrent.futures.Future()

    def use(self, choice: SensorChoice) -> None:
        self.done.append(f"use {choice.name}")
        self.followed.append(choice)

    def forget(self, choice: SensorChoice) -> None:
        self.done.append(f"forget {choice.name}")
        self.followed.remove(choice)

    def survey(
        self, seconds: float, saw: Callable[[Sighting], None]
    ) -> concurrent.futures.Future[Survey]:
        self.done.append("survey")
        self._saw, self._survey = saw, concurrent.futures.Future()
        return self._survey

    def statuses(self) -> tuple[SensorStatus, ...]:
        there = (self.stands.get(one.platform_id) for one in self.followed)
        return tuple(one for one in there if one is not None)

    def close(self) -> None:
        assert self.may_close.wait(5.0)
        self.done.append(f"close on {threading.current_thread().name}")

    def hear(self, *seen: Sighting) -> None:
        """The scan under way hears sensors; it goes on."""
        for one in seen:
            self._saw(one)

    def end_scan(self, survey: Survey) -> None:
        """The scan under way ends."""
        self._survey.set_result(survey)

    def fail_scan(self, error: Exception) -> None:
        """The scan under way ends with an error that nobody foresaw."""
        self._survey.set_exception(error)


def pedalled(
    of: Sighting, t_ns: int, power_w: int = 210, turns: int = 0, battery_percent: int = 80
) -> SensorStatus:
    """Return a live power meter at a left crank that turns once a second: 60 rpm.

    Layouts from the Bluetooth SIG's GATT Specification Supplement: 2A63 with flags 0x20 (crank
    revolutions, their time in 1/1024 s), 2A5D 5 = left crank, 2A65 with no feature, 2A19 percent.
    """
    data = b"".join(
        number.to_bytes(2, "little") for number in (0x20, power_w, turns, turns * 1024 % 65536)
    )
    packets = {
        "2A63": Packet(t_ns, of.platform_id, "2A63", data),
        "2A65": Packet(1, of.platform_id, "2A65", bytes(4)),
        "2A5D": Packet(2, of.platform_id, "2A5D", bytes([5])),
        "2A19": Packet(3, of.platform_id, "2A19", bytes([battery_percent])),
    }
    return status(of, Phase.LIVE, f"{of.name} gives values.", packets)


def status(
    of: Sighting, phase: Phase, text: str, last: dict[str, Packet] | None = None
) -> SensorStatus:
    """Return how a sensor's link stands."""
    packets = last or {}
    return SensorStatus(
        of.choice, of.name, phase, text, NS_PER_S, None, of.rssi_dbm, of.services, packets, 1, 0
    )
