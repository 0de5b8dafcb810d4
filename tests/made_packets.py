"""Well-formed packets made at random to any flags.

The sizes are those of the Bluetooth SIG's GATT Specification Supplement.
"""

from __future__ import annotations

import random

from posewatch.core.sensor_records import Characteristic

#: Bytes of each announced field by its bit.
POWER_SIZES = {0: 1, 2: 2, 4: 6, 5: 4, 6: 4, 7: 4, 8: 3, 9: 2, 10: 2, 11: 2}
VECTOR_SIZES = {0: 4, 1: 2}
CSC_SIZES = {0: 6, 1: 4}
#: Without bit 0, which announces by being clear; the resistance (bit 5) with one byte.
BIKE_SIZES = {1: 2, 2: 2, 3: 2, 4: 3, 5: 1, 6: 2, 7: 2, 8: 5, 9: 1, 10: 1, 11: 2, 12: 2}


def made_packet(characteristic: Characteristic, flags: int, chance: random.Random) -> bytes:
    """Make a packet of just the right length for its flags, with any numbers in its fields."""

    def announced(sizes: dict[int, int]) -> int:
        return sum(size for bit, size in sizes.items() if flags >> bit & 1)

    match characteristic:
        case Characteristic.CYCLING_POWER_MEASUREMENT:
            return _flags(flags, 2) + chance.randbytes(2 + announced(POWER_SIZES))
        case Characteristic.CYCLING_POWER_VECTOR:
            array = 2 * chance.randint(0, 9) if flags & 0b1100 else 0
            return _flags(flags, 1) + chance.randbytes(announced(VECTOR_SIZES) + array)
        case Characteristic.CSC_MEASUREMENT:
            return _flags(flags, 1) + chance.randbytes(announced(CSC_SIZES))
        case Characteristic.INDOOR_BIKE_DATA:
            speed = 0 if flags & 1 else 2
            return _flags(flags, 2) + chance.randbytes(speed + announced(BIKE_SIZES))
        case Characteristic.HEART_RATE_MEASUREMENT:
            energy = 2 if flags & 8 else 0
            intervals = 2 * chance.randint(0, 9) if flags & 16 else 0
            rate = 2 if flags & 1 else 1
            return _flags(flags, 1) + chance.randbytes(rate + energy + intervals)
        case Characteristic.CYCLING_POWER_FEATURE:
            return chance.randbytes(4)
        case Characteristic.SENSOR_LOCATION:
            return chance.randbytes(1)
        case Characteristic.BATTERY_LEVEL:
            return bytes([chance.randint(0, 100)])


def _flags(flags: int, n_bytes: int) -> bytes:
    return flags.to_bytes(n_bytes, "little")
