"""Sensors' packets on their way to the log, and the effort that the hold makes of them."""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from posewatch.core import effort_sources, sensor_effort
from posewatch.core.effort_sources import SourcesState
from posewatch.core.records import NS_PER_S, Input
from posewatch.core.sensor_effort import DeviceState
from posewatch.core.sensor_records import Characteristic, Packet, SensorRecord
from posewatch.core.sensor_source import SensorEvent, SensorSource
from posewatch.core.sensor_use import SensorUse
from posewatch.sensors import gatt, gatt_bike
from posewatch.sensors.gatt_bike import IndoorBikeParts
from posewatch.sensors.gatt_fields import PacketProblem

logger = logging.getLogger(__name__)

#: A sensor silent for so long may have started its counters anew.
SILENT_NS = 3 * NS_PER_S


@dataclass(slots=True)
class _Device:
    """What is remembered of one sensor."""

    state: DeviceState
    parts: IndoorBikeParts
    last_ns: int


class EffortFeed:
    """Gives the inputs that come of a sensor source: packets, conditions, and the effort.

    n_unreadable: packets that could not be read; they are logged all the same.

    Args:
        source: live sensors, or recorded ones.
        use: which of them gives what.
        names: platform ids by name, as far as they are known now.
    """

    def __init__(
        self,
        source: SensorSource,
        use: SensorUse,
        names: Callable[[], Mapping[str, str]],
    ) -> None:
        self._source, self._use, self._names = source, use, names
        self._devices: dict[str, _Device] = {}
        self._sources = use.sources(names())
        self._state = SourcesState()
        self.n_unreadable = 0

    def begin(self, now_ns: int) -> list[Input]:
        """Start the session's clock; gives what is known as of now."""
        return self._inputs(self._source.begin(now_ns))

    def taken(self, now_ns: int) -> list[Input]:
        """Give what came since the last time, up to now_ns."""
        return self._inputs(self._source.taken(now_ns))

    def close(self) -> None:
        """Let go of the sensors; twice is harmless."""
        self._source.close()

    def _inputs(self, events: Iterable[SensorEvent]) -> list[Input]:
        inputs: list[Input] = []
        for event in events:
            inputs.append(event)
            if isinstance(event, Packet):
                inputs += self._efforts(event)
        return inputs

    def _efforts(self, packet: Packet) -> list[Input]:
        device = self._device(packet)
        try:
            record = self._record(device, packet)
        except PacketProblem as problem:
            self.n_unreadable += 1
            logger.warning("%s: %s", packet.device, problem)
            return []
        if record is None:
            return []
        device.state, reading = sensor_effort.step(device.state, packet.t_ns, record)
        if reading is None:
            return []
        self._state, effort = effort_sources.step(self._sources, self._state, reading)
        return [] if effort is None else [effort]

    def _device(self, packet: Packet) -> _Device:
        """Return a sensor's memory; one that was silent for long begins anew."""
        device = self._devices.get(packet.device)
        if device is None:
            # A name is known at the latest when its first packet comes.
            self._sources = self._use.sources(self._names())
            device = _Device(sensor_effort.start(packet.device), IndoorBikeParts(), packet.t_ns)
            self._devices[packet.device] = device
        elif packet.t_ns - device.last_ns > SILENT_NS:
            device.state = sensor_effort.reconnected(device.state)
            device.parts = IndoorBikeParts()
        device.last_ns = packet.t_ns
        return device

    def _record(self, device: _Device, packet: Packet) -> SensorRecord | None:
        if packet.characteristic == Characteristic.INDOOR_BIKE_DATA:
            device.parts, record = gatt_bike.step(device.parts, packet.data)
            return record
        return gatt.decode(packet.characteristic, packet.data)
