"""What a packet says: bytes in, a record out. Pure.

Layouts from the Bluetooth SIG's GATT Specification Supplement; what is from memory says so.
"""

from __future__ import annotations

import struct
from collections.abc import Callable

from posewatch.core.sensor_records import (
    Battery,
    Characteristic,
    HeartRate,
    Location,
    SensorRecord,
)
from posewatch.sensors.gatt_bike import read_indoor_bike
from posewatch.sensors.gatt_fields import Field, Layout, PacketProblem
from posewatch.sensors.gatt_power import (
    read_feature,
    read_measurement,
    read_speed_and_cadence,
    read_vector,
)

RR_TICKS_PER_S = 1024
FULL_PERCENT = 100

_HEART_RATE = Layout(
    Characteristic.HEART_RATE_MEASUREMENT,
    "B",
    Field(0, "H", when_clear="B"),  # beats a minute
    Field(3, "H"),  # energy; kJ is from memory, the supplement's unit line says joule
)
_LOCATION = Layout(Characteristic.SENSOR_LOCATION, "B")
_BATTERY = Layout(Characteristic.BATTERY_LEVEL, "B")


def decode(characteristic: str, data: bytes) -> SensorRecord:
    """Give what a packet says.

    A notification of 2AD2 is read by itself here; :func:`posewatch.sensors.gatt_bike.step` puts
    records together that are split.

    Args:
        characteristic: its number as :class:`Characteristic` writes it, as 2A63.
        data: the packet, all of it.

    Raises:
        PacketProblem: the packet is too short or says what cannot be, or nothing is known of the
            characteristic.
    """
    read = _READERS.get(characteristic)
    if read is None:
        raise PacketProblem(characteristic, data, f"one of {', '.join(_READERS)} is needed")
    return read(data)


def _read_heart_rate(data: bytes) -> HeartRate:
    fields = _HEART_RATE.read(data)
    # Sensors are known that send an odd byte more than their intervals need.
    n_intervals = len(fields.rest) // 2 if fields.flag(4) else 0
    return HeartRate(
        rate_bpm=fields.by_bit[0][0],
        contact=fields.flag(1) if fields.flag(2) else None,
        energy_kj=fields.number(3),
        rr_s=tuple(
            ticks / RR_TICKS_PER_S for ticks in struct.unpack_from(f"<{n_intervals}H", fields.rest)
        ),
    )


def _read_location(data: bytes) -> Location:
    return Location(_LOCATION.read(data).head[0])


def _read_battery(data: bytes) -> Battery:
    percent = _BATTERY.read(data).head[0]
    if percent > FULL_PERCENT:
        why = f"it says {percent} of {FULL_PERCENT} percent"
        raise PacketProblem(Characteristic.BATTERY_LEVEL, data, why)
    return Battery(percent)


_READERS: dict[str, Callable[[bytes], SensorRecord]] = {
    Characteristic.CYCLING_POWER_MEASUREMENT: read_measurement,
    Characteristic.CYCLING_POWER_VECTOR: read_vector,
    Characteristic.CYCLING_POWER_FEATURE: read_feature,
    Characteristic.CSC_MEASUREMENT: read_speed_and_cadence,
    Characteristic.INDOOR_BIKE_DATA: read_indoor_bike,
    Characteristic.HEART_RATE_MEASUREMENT: _read_heart_rate,
    Characteristic.SENSOR_LOCATION: _read_location,
    Characteristic.BATTERY_LEVEL: _read_battery,
}
