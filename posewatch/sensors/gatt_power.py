"""Power, its vector and its features, and speed and cadence: 2A63, 2A64, 2A65, 2A5B.

Layouts from the Bluetooth SIG's GATT Specification Supplement; what is from memory says so.
"""

from __future__ import annotations

import struct

from posewatch.core.sensor_records import (
    Characteristic,
    CyclingPower,
    PowerFeature,
    PowerVector,
    SpeedAndCadence,
    Turns,
)
from posewatch.sensors.gatt_fields import Field, Layout, PacketProblem

#: The time of a wheel's last turn is finer in the power service than in speed and cadence; that of
#: a crank is the same in both.
POWER_WHEEL_TICKS_PER_S = 2048
TICKS_PER_S = 1024
TORQUE_UNITS_PER_NM = 32
#: Balance in half percents. 255 = unknown (from memory); what lies between them is reserved.
BALANCE_WHOLE = 200

_MEASUREMENT = Layout(
    Characteristic.CYCLING_POWER_MEASUREMENT,
    "Hh",  # flags, power in W
    Field(0, "B"),  # balance
    Field(2, "H"),  # accumulated torque
    Field(4, "IH"),  # wheel
    Field(5, "HH"),  # crank
    Field(6, "hh"),  # extreme forces
    Field(7, "hh"),  # extreme torques
    Field(8, "HB"),  # extreme angles, 24 bits
    Field(9, "H"),  # top dead spot
    Field(10, "H"),  # bottom dead spot
    Field(11, "H"),  # energy
)
_VECTOR = Layout(
    Characteristic.CYCLING_POWER_VECTOR,
    "B",
    Field(0, "HH"),  # crank
    Field(1, "H"),  # angle of the first value
)
_FEATURE = Layout(Characteristic.CYCLING_POWER_FEATURE, "I")
_SPEED_AND_CADENCE = Layout(
    Characteristic.CSC_MEASUREMENT,
    "B",
    Field(0, "IH"),  # wheel
    Field(1, "HH"),  # crank
)


def read_measurement(data: bytes) -> CyclingPower:
    """Read 2A63.

    Raises:
        PacketProblem: it is shorter than its flags call for.
    """
    fields = _MEASUREMENT.read(data)
    balance = fields.number(0)
    torques = fields.pair(7)
    angles = fields.pair(8)
    return CyclingPower(
        power_w=fields.head[1],
        # A reserved value says nothing of the balance, and nothing against the power.
        balance=None if balance is None or balance > BALANCE_WHOLE else balance / BALANCE_WHOLE,
        balance_is_left=fields.flag(1),
        torque_1_32_nm=fields.number(2),
        torque_at_crank=fields.flag(3),
        wheel=_turns(fields.pair(4), POWER_WHEEL_TICKS_PER_S, 32),
        crank=_turns(fields.pair(5), TICKS_PER_S, 16),
        force_n=fields.pair(6),
        torque_nm=torques and (torques[0] / TORQUE_UNITS_PER_NM, torques[1] / TORQUE_UNITS_PER_NM),
        extreme_angles_deg=angles and _two_of_12_bits(angles[0] | angles[1] << 16),
        top_dead_spot_deg=fields.number(9),
        bottom_dead_spot_deg=fields.number(10),
        energy_kj=fields.number(11),
        offset_compensation=fields.flag(12),
    )


def read_vector(data: bytes) -> PowerVector:
    """Read 2A64. Its array runs to the end of the packet.

    Raises:
        PacketProblem: it is shorter than its flags call for, it ends within a value of the array,
            or it announces two arrays (nothing says where the one ends and the other begins).
    """
    fields = _VECTOR.read(data)
    of_force, of_torque = fields.flag(2), fields.flag(3)
    values: tuple[int, ...] = ()
    if of_force and of_torque:
        why = "it announces forces and torques at once, which cannot be told apart"
        raise PacketProblem(Characteristic.CYCLING_POWER_VECTOR, data, why)
    if of_force or of_torque:
        if len(fields.rest) % 2:
            why = "it ends in the middle of a value; each has two bytes"
            raise PacketProblem(Characteristic.CYCLING_POWER_VECTOR, data, why)
        values = struct.unpack(f"<{len(fields.rest) // 2}h", fields.rest)
    return PowerVector(
        crank=_turns(fields.pair(0), TICKS_PER_S, 16),
        first_deg=fields.number(1),
        forces_n=values if of_force else (),
        torques_nm=tuple(value / TORQUE_UNITS_PER_NM for value in values) if of_torque else (),
        direction=fields.head[0] >> 4 & 3,
    )


def read_feature(data: bytes) -> PowerFeature:
    """Read 2A65.

    Raises:
        PacketProblem: it is shorter than four bytes.
    """
    return PowerFeature(_FEATURE.read(data).head[0])


def read_speed_and_cadence(data: bytes) -> SpeedAndCadence:
    """Read 2A5B.

    Raises:
        PacketProblem: it is shorter than its flags call for.
    """
    fields = _SPEED_AND_CADENCE.read(data)
    return SpeedAndCadence(
        wheel=_turns(fields.pair(0), TICKS_PER_S, 32),
        crank=_turns(fields.pair(1), TICKS_PER_S, 16),
    )


def _turns(pair: tuple[int, int] | None, ticks_per_s: int, count_bits: int) -> Turns | None:
    return pair and Turns(pair[0], pair[1], ticks_per_s, count_bits)


def _two_of_12_bits(both: int) -> tuple[int, int]:
    """Give maximum and minimum; the maximum has the lower bits."""
    return both & 0xFFF, both >> 12
