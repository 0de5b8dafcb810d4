"""One sensor's packets, decoded in the order of arrival, and the effort that they tell."""

from __future__ import annotations

from dataclasses import dataclass, field

from posewatch.core import sensor_effort
from posewatch.core.sensor_effort import DeviceReading, DeviceState
from posewatch.core.sensor_records import Characteristic, Packet, SensorRecord
from posewatch.sensors import gatt, gatt_bike
from posewatch.sensors.gatt_bike import IndoorBikeParts


@dataclass(slots=True)
class DeviceReader:
    """What is remembered of one sensor. device: its platform id. effort: its last values."""

    device: str
    effort: DeviceState = field(init=False)
    _parts: IndoorBikeParts = IndoorBikeParts()

    def __post_init__(self) -> None:
        self.effort = sensor_effort.start(self.device)

    def read(self, packet: Packet) -> tuple[SensorRecord | None, DeviceReading | None]:
        """Return what a packet holds and what it tells of the effort; None = it goes on, nothing.

        Raises:
            PacketProblem: it cannot be read; nothing is changed.
        """
        record = self._record(packet)
        if record is None:
            return None, None
        self.effort, reading = sensor_effort.step(self.effort, packet.t_ns, record)
        return record, reading

    def tick(self, t_ns: int) -> DeviceState:
        """Let time pass; return the last values as they stand at t_ns."""
        self.effort = sensor_effort.tick(self.effort, t_ns)
        return self.effort

    def connected_anew(self) -> None:
        """Begin anew with what counts up, and with what was said in part."""
        self.effort = sensor_effort.reconnected(self.effort)
        self._parts = IndoorBikeParts()

    def _record(self, packet: Packet) -> SensorRecord | None:
        if packet.characteristic == Characteristic.INDOOR_BIKE_DATA:
            self._parts, record = gatt_bike.step(self._parts, packet.data)
            return record
        return gatt.decode(packet.characteristic, packet.data)
