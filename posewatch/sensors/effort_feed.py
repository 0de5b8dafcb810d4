"""Sensors' packets on their way to the log, and the effort that the hold makes of them."""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field

from posewatch.core import effort_sources, smoothness
from posewatch.core.effort_sources import SourcesState
from posewatch.core.records import NS_PER_S, DrivenTurn, Input, SourceCondition, SourceState
from posewatch.core.sensor_records import (
    CyclingPower,
    Location,
    Packet,
    PowerFeature,
    PowerVector,
    SensorRecord,
)
from posewatch.core.sensor_source import SensorEvent, SensorSource
from posewatch.core.sensor_use import SensorUse
from posewatch.core.smoothness import TorqueState
from posewatch.sensors.device_reader import DeviceReader
from posewatch.sensors.gatt_fields import PacketProblem
from posewatch.sensors.labels import describes_one_side

logger = logging.getLogger(__name__)

#: A sensor silent for so long may have started its counters anew.
SILENT_NS = 3 * NS_PER_S


@dataclass(slots=True)
class _Device:
    """What is remembered of one sensor; feature and location: what it says of itself."""

    reader: DeviceReader
    last_ns: int
    torque: TorqueState = field(default_factory=TorqueState)
    feature: PowerFeature | None = None
    location: Location | None = None

    def begin_anew(self) -> None:
        """Pair nothing of what comes with what came before."""
        self.reader.connected_anew()
        self.torque = TorqueState()


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
            else:
                self._note(event)
        return inputs

    def _note(self, state: SourceState) -> None:
        """A sensor that gives values again was connected anew, however short it was away."""
        device = self._devices.get(self._names().get(state.source, state.source))
        if device is not None and state.condition is SourceCondition.RUNNING:
            device.begin_anew()

    def _efforts(self, packet: Packet) -> list[Input]:
        device = self._device(packet)
        try:
            record, reading = device.reader.read(packet)
        except PacketProblem as problem:
            self.n_unreadable += 1
            logger.warning("%s: %s", self._called(packet.device), problem)
            return []
        found: list[Input] = []
        if reading is not None:
            self._state, effort = effort_sources.step(self._sources, self._state, reading)
            found += [] if effort is None else [effort]
        if record is not None:
            found += self._driven(device, packet, record)
        return found

    def _driven(self, device: _Device, packet: Packet, record: SensorRecord) -> list[Input]:
        """Return how evenly a revolution that ended was driven, where a chosen meter tells it."""
        if isinstance(record, PowerFeature):
            device.feature = record
        elif isinstance(record, Location):
            device.location = record
        elif isinstance(record, CyclingPower | PowerVector):
            per_leg = describes_one_side(device.feature, device.location)
            device.torque, turn = smoothness.step(device.torque, record, per_leg)
            if turn is not None and packet.device == self._sources.power:
                figures = (turn.pedal_smoothness_pct, turn.torque_effectiveness_pct)
                return [DrivenTurn(packet.t_ns, *figures, turn.per_leg)]
        return []

    def _device(self, packet: Packet) -> _Device:
        """Return a sensor's memory; one that was silent for long begins anew."""
        device = self._devices.get(packet.device)
        if device is None:
            # A name is known at the latest when its first packet comes.
            self._sources = self._use.sources(self._names())
            device = _Device(DeviceReader(packet.device), packet.t_ns)
            self._devices[packet.device] = device
        elif packet.t_ns - device.last_ns > SILENT_NS:
            device.begin_anew()
        device.last_ns = packet.t_ns
        return device

    def _called(self, device: str) -> str:
        """Return a sensor's name for people, its platform id where none is known."""
        named = (name for name, one in self._names().items() if one == device and name != device)
        return next(named, self._use.called(device))
