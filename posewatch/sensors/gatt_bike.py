"""A trainer's own record, 2AD2, which may be split over several notifications.

Layout from the Bluetooth SIG's GATT Specification Supplement; what is from memory says so.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Any

from posewatch.core.sensor_records import Characteristic, IndoorBike
from posewatch.sensors.gatt_fields import Field, Layout, PacketProblem

MORE_DATA = 0
RESISTANCE = 5
#: Energies that stand for "not known": total, per hour, per minute (from memory).
UNKNOWN_ENERGY = (0xFFFF, 0xFFFF, 0xFF)


def _layout(resistance: str) -> Layout:
    return Layout(
        Characteristic.INDOOR_BIKE_DATA,
        "H",
        Field(MORE_DATA, "", when_clear="H"),  # speed, in the last part of a record only
        Field(1, "H"),  # average speed
        Field(2, "H"),  # cadence
        Field(3, "H"),  # average cadence
        Field(4, "HB"),  # distance, 24 bits
        Field(RESISTANCE, resistance),
        Field(6, "h"),  # power
        Field(7, "h"),  # average power
        Field(8, "HHB"),  # energy
        Field(9, "B"),  # heart rate
        Field(10, "B"),  # metabolic equivalent
        Field(11, "H"),  # elapsed time
        Field(12, "H"),  # remaining time
    )


#: The supplement gives the resistance one byte, older descriptions and many trainers two.
_NARROW = _layout("B")
_WIDE = _layout("h")


@dataclass(frozen=True, slots=True)
class IndoorBikeParts:
    """What one device has said so far of a record that goes on in its next notification."""

    held: IndoorBike | None = None


def step(parts: IndoorBikeParts, data: bytes) -> tuple[IndoorBikeParts, IndoorBike | None]:
    """Take one notification of 2AD2; one state a device and connection.

    A record ends with a notification whose bit 0 is clear. One that says again what is held begins
    a new record: then the one held is given out as far as it got, so that a device which never
    ends a record is heard too, a notification late. (If the new one is whole by itself, it is
    given out and the fragment is dropped.)

    Returns:
        The state, and the record that became complete, None = it goes on.

    Raises:
        PacketProblem: see :func:`read_indoor_bike`; keep the state.
    """
    part, goes_on = _read_part(data)
    held = parts.held or IndoorBike()
    anew = not _said(held).keys().isdisjoint(_said(part))
    whole = part if anew else replace(held, **_said(part))
    if not goes_on:
        return IndoorBikeParts(), whole
    return IndoorBikeParts(whole), held if anew else None


def read_indoor_bike(data: bytes) -> IndoorBike:
    """Read one notification of 2AD2 by itself: it may be a part of a record.

    Whether the resistance has one byte or two is told by the length of the whole packet. So a
    packet with two that lost its last byte cannot be told from one with one byte.

    Raises:
        PacketProblem: it is shorter than its flags call for, or too long to tell how wide the
            resistance is.
    """
    return _read_part(data)[0]


def _read_part(data: bytes) -> tuple[IndoorBike, bool]:
    """Give what the packet says, and whether the record goes on."""
    found = _layout_of(data).read(data)
    distance = found.pair(4)
    total, per_h, per_min = (
        None if energy == unknown else energy
        for energy, unknown in zip(found.by_bit.get(8, UNKNOWN_ENERGY), UNKNOWN_ENERGY, strict=True)
    )
    record = IndoorBike(
        speed_km_h=found.scaled(MORE_DATA, 100),
        average_speed_km_h=found.scaled(1, 100),
        cadence_rpm=found.scaled(2, 2),
        average_cadence_rpm=found.scaled(3, 2),
        distance_m=distance and distance[0] | distance[1] << 16,
        resistance=found.number(RESISTANCE),
        power_w=found.number(6),
        average_power_w=found.number(7),
        energy_kcal=total,
        energy_per_h_kcal=per_h,
        energy_per_min_kcal=per_min,
        heart_rate_bpm=found.number(9),
        metabolic_equivalent=found.scaled(10, 10),
        elapsed_s=found.number(11),
        remaining_s=found.number(12),
    )
    return record, found.flag(MORE_DATA)


def _layout_of(data: bytes) -> Layout:
    spare = len(data) - _NARROW.length(data)
    if spare <= 0 or _WIDE.length(data) == _NARROW.length(data):
        return _NARROW
    if spare > 1:
        why = (
            f"with resistance it has {_NARROW.length(data)} or {_WIDE.length(data)}, and its "
            "length must tell which"
        )
        raise PacketProblem(Characteristic.INDOOR_BIKE_DATA, data, why)
    return _WIDE


def _said(record: IndoorBike) -> dict[str, Any]:
    named = ((field.name, getattr(record, field.name)) for field in fields(record))
    return {name: value for name, value in named if value is not None}
