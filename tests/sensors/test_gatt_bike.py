"""A trainer's record: widths, values that say nothing, records in parts.

The layout is that of the Bluetooth SIG's GATT Specification Supplement.
"""

from __future__ import annotations

import random
import struct

import pytest
from made_packets import made_packet
from sensor_payloads import PAYLOADS, WIDE_RESISTANCE

from posewatch.core.sensor_records import Characteristic, IndoorBike
from posewatch.sensors.gatt_bike import IndoorBikeParts, read_indoor_bike, step
from posewatch.sensors.gatt_fields import PacketProblem

NOTHING = IndoorBikeParts()

CADENCE_AND_POWER = struct.pack("<HHh", 0b100_0101, 180, 200)
SPEED = struct.pack("<HH", 0, 3000)
DISTANCE = struct.pack("<HHB", 0b1_0001, 0x0203, 0x01)


@pytest.mark.parametrize("resistance", ["<B", "<h"])
def test_all_fields_with_a_resistance_of_either_width(resistance: str) -> None:
    packet = (
        struct.pack("<HHHHHHB", 0x1FFE, 3012, 2950, 181, 160, 0x0203, 0x01)
        + struct.pack(resistance, 20)
        + struct.pack("<hhHHBBBHH", -7, 150, 321, 600, 10, 140, 85, 3600, 60)
    )
    assert read_indoor_bike(packet) == IndoorBike(
        speed_km_h=30.12,
        average_speed_km_h=29.5,
        cadence_rpm=90.5,
        average_cadence_rpm=80.0,
        distance_m=0x010203,
        resistance=20,
        power_w=-7,
        average_power_w=150,
        energy_kcal=321,
        energy_per_h_kcal=600,
        energy_per_min_kcal=10,
        heart_rate_bpm=140,
        metabolic_equivalent=8.5,
        elapsed_s=3600,
        remaining_s=60,
    )


def test_a_resistance_of_two_bytes_has_a_sign() -> None:
    assert read_indoor_bike(struct.pack("<Hh", 0b10_0001, -3)).resistance == -3
    assert read_indoor_bike(struct.pack("<HB", 0b10_0001, 253)).resistance == 253


def test_a_length_that_cannot_tell_the_width_is_refused() -> None:
    with pytest.raises(PacketProblem, match="with resistance it has 10 or 11"):
        read_indoor_bike(WIDE_RESISTANCE.data + b"\x00")


def test_a_wide_packet_that_lost_its_last_byte_is_taken_for_a_narrow_one() -> None:
    # Nothing in the packet tells them apart; said in the docstring.
    wide = struct.pack("<HHhhB", 0b10_0110_0000, 1500, 20, 199, 70)
    whole = IndoorBike(speed_km_h=15.0, resistance=20, power_w=199, heart_rate_bpm=70)
    assert read_indoor_bike(wide) == whole
    shifted = IndoorBike(speed_km_h=15.0, resistance=20, power_w=-14592, heart_rate_bpm=0)
    assert read_indoor_bike(wide[:-1]) == shifted


def test_energies_that_are_not_known_are_not_told() -> None:
    packet = struct.pack("<HHHB", 0b1_0000_0001, 0xFFFF, 0xFFFF, 0xFF)
    assert read_indoor_bike(packet) == IndoorBike()
    packet = struct.pack("<HHHB", 0b1_0000_0001, 12, 0xFFFF, 0xFF)
    assert read_indoor_bike(packet) == IndoorBike(energy_kcal=12)


def test_a_record_in_one_notification_is_whole_at_once() -> None:
    bikes = [payload for payload in PAYLOADS if isinstance(payload.record, IndoorBike)]
    assert len(bikes) == 5
    for payload in bikes:
        assert step(NOTHING, payload.data) == (NOTHING, payload.record)


def test_a_record_in_parts_is_whole_with_its_last() -> None:
    parts, record = step(NOTHING, CADENCE_AND_POWER)
    assert record is None
    parts, record = step(parts, DISTANCE)
    assert record is None
    parts, record = step(parts, SPEED)
    assert record == IndoorBike(speed_km_h=30.0, cadence_rpm=90.0, power_w=200, distance_m=0x010203)
    assert parts == NOTHING


def test_a_part_that_says_again_what_is_held_begins_a_new_record() -> None:
    again = struct.pack("<HHh", 0b100_0101, 184, 210)
    parts, _ = step(NOTHING, CADENCE_AND_POWER)
    parts, record = step(parts, again)
    assert record == IndoorBike(cadence_rpm=90.0, power_w=200)
    parts, record = step(parts, SPEED)
    assert record == IndoorBike(speed_km_h=30.0, cadence_rpm=92.0, power_w=210)


def test_a_whole_record_does_not_take_on_a_fragment_of_another() -> None:
    parts, _ = step(NOTHING, CADENCE_AND_POWER)
    whole = struct.pack("<HHH", 0b100, 3100, 170)
    assert step(parts, whole) == (NOTHING, IndoorBike(speed_km_h=31.0, cadence_rpm=85.0))


def test_values_of_zero_are_values() -> None:
    standing = struct.pack("<HHh", 0b100_0101, 0, 0)
    parts, _ = step(NOTHING, standing)
    _, record = step(parts, SPEED)
    assert record == IndoorBike(speed_km_h=30.0, cadence_rpm=0.0, power_w=0)
    _, record = step(parts, standing)
    assert record == IndoorBike(cadence_rpm=0.0, power_w=0)


def test_two_devices_have_parts_of_their_own() -> None:
    one, _ = step(NOTHING, CADENCE_AND_POWER)
    other, _ = step(NOTHING, DISTANCE)
    assert step(one, SPEED)[1] == IndoorBike(speed_km_h=30.0, cadence_rpm=90.0, power_w=200)
    assert step(other, SPEED)[1] == IndoorBike(speed_km_h=30.0, distance_m=0x010203)


def test_a_broken_part_is_refused_and_what_is_held_stays_good() -> None:
    parts, _ = step(NOTHING, CADENCE_AND_POWER)
    with pytest.raises(PacketProblem):
        step(parts, SPEED[:-1])
    assert step(parts, SPEED)[1] == IndoorBike(speed_km_h=30.0, cadence_rpm=90.0, power_w=200)


def test_however_a_record_is_split_it_is_put_together_the_same() -> None:
    chance = random.Random(11)
    for _ in range(300):
        whole = made_packet(Characteristic.INDOOR_BIKE_DATA, 0x1FDE, chance)
        first = chance.getrandbits(13) & 0x1FDE
        parts, record = step(NOTHING, _only(whole, first) if first else b"\x01\x00")
        assert record is None
        _, record = step(parts, _only(whole, 0x1FDE & ~first, last=True))
        assert record == read_indoor_bike(whole)


def _only(whole: bytes, bits: int, *, last: bool = False) -> bytes:
    """Give the packet with the fields of these bits only; bit 0 is set unless it is the last."""
    sizes = {0: 2, 1: 2, 2: 2, 3: 2, 4: 3, 6: 2, 7: 2, 8: 5, 9: 1, 10: 1, 11: 2, 12: 2}
    wanted = bits | (1 if last else 0)
    at, kept = 2, b""
    for bit, size in sizes.items():
        if wanted >> bit & 1:
            kept += whole[at : at + size]
        at += size
    return struct.pack("<H", bits if last else bits | 1) + kept
