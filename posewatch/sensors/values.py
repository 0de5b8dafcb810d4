"""What one sensor says, decoded for people: its newest values, and how old they may be."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

from posewatch.core.records import NS_PER_S
from posewatch.core.sensor_records import (
    Battery,
    CyclingPower,
    HeartRate,
    Location,
    Packet,
    PowerFeature,
)
from posewatch.sensors.device_reader import DeviceReader
from posewatch.sensors.gatt_fields import PacketProblem
from posewatch.sensors.labels import power_source

#: An older value is no longer shown.
OLD_NS = 3 * NS_PER_S


@dataclass(slots=True)
class SensorValues:
    """The newest values of one sensor; packets go in by :meth:`take` in the order of arrival.

    n_bad: packets that could not be read; problem: of the last one, empty = none.
    """

    device: str
    n_packets: int = 0
    n_bad: int = 0
    problem: str = ""
    _reader: DeviceReader = field(init=False)
    _effort_ns: int | None = None
    _heart: tuple[int, HeartRate] | None = None
    _battery: Battery | None = None
    _feature: PowerFeature | None = None
    _location: Location | None = None
    _power: CyclingPower | None = None

    def __post_init__(self) -> None:
        self._reader = DeviceReader(self.device)

    def connected_anew(self) -> None:
        """Begin anew with what counts up."""
        self._reader.connected_anew()

    def take(self, packet: Packet) -> None:
        """Take in a packet; one that cannot be read is counted."""
        self.n_packets += 1
        try:
            record, reading = self._reader.read(packet)
        except PacketProblem as problem:
            self.n_bad += 1
            self.problem = str(problem)
            return
        if isinstance(record, HeartRate):
            self._heart = packet.t_ns, record
        elif isinstance(record, Battery):
            self._battery = record
        elif isinstance(record, PowerFeature):
            self._feature = record
        elif isinstance(record, Location):
            self._location = record
        elif isinstance(record, CyclingPower):
            self._power = record
        if reading is not None:
            self._effort_ns = packet.t_ns

    def words(self, now_ns: int) -> list[str]:
        """Return the values with their units; a dash for what is too old."""
        words = []
        if self._effort_ns is not None:
            fresh = now_ns - self._effort_ns <= OLD_NS
            effort = self._reader.tick(now_ns)
            for value, kind, unit, decimals in (
                (effort.power_w, effort.power_kind, "W", 0),
                (effort.cadence_rpm, effort.cadence_kind, "rpm", 1),
                (effort.speed_km_h, effort.speed_kind, "km/h", 1),
            ):
                if kind is not None:
                    words.append(_value(value, unit, decimals, fresh))
        if self._heart is not None:
            heart_ns, heart = self._heart
            words.append(_value(heart.rate_bpm, "bpm", 0, now_ns - heart_ns <= OLD_NS))
        return [word for word in words if word]

    def age_s(self, now_ns: int) -> float:
        """Return how old the newest value is, NaN = none has come."""
        heart_ns = None if self._heart is None else self._heart[0]
        came = [t_ns for t_ns in (self._effort_ns, heart_ns) if t_ns is not None]
        return (now_ns - max(came)) / NS_PER_S if came else math.nan

    def battery(self) -> str:
        """Return the battery's charge, empty = it does not say."""
        return "" if self._battery is None else f"{self._battery.percent} %"

    def power_source(self) -> str:
        """Say whose power it is and where it is taken, empty = it measures none itself."""
        if self._feature is None and self._power is None:
            return ""
        return power_source(self._feature, self._location, self._power)

    def facts(self) -> list[str]:
        """Return what does not change: battery, whose power, where it sits."""
        words = [("battery {}", self.battery()), ("power of {}", self.power_source())]
        return [text.format(word) for text, word in words if word]


def values_of(device: str, packets: dict[str, Packet]) -> SensorValues:
    """Return the values that a few packets of one sensor give, one of each kind."""
    values = SensorValues(device)
    for packet in sorted(packets.values(), key=lambda one: one.t_ns):
        values.take(replace(packet, device=device))
    return values


def _value(value: float, unit: str, decimals: int, fresh: bool) -> str:
    if not fresh:
        return f"- {unit}"
    return "" if math.isnan(value) else f"{value:.{decimals}f} {unit}"
