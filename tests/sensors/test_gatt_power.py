"""Power, vector, feature, speed and cadence, field by field.

The layouts are those of the Bluetooth SIG's GATT Specification Supplement.
"""

from __future__ import annotations

import struct
from dataclasses import replace

import pytest

from posewatch.core.sensor_records import (
    CyclingPower,
    PowerFeature,
    PowerVector,
    SpeedAndCadence,
    Turns,
)
from posewatch.sensors.gatt_fields import PacketProblem
from posewatch.sensors.gatt_power import (
    read_feature,
    read_measurement,
    read_speed_and_cadence,
    read_vector,
)


def test_all_fields_of_a_power_measurement_come_in_the_order_of_their_bits() -> None:
    packet = struct.pack(
        "<HhBHIHHHhhhh3sHHH",
        0x1FFF,
        -250,
        97,
        3200,
        4_000_000_000,
        2049,
        65_000,
        1025,
        300,
        -40,
        640,
        -48,
        bytes.fromhex("bc3a12"),
        358,
        181,
        999,
    )
    assert len(packet) == 34
    assert read_measurement(packet) == CyclingPower(
        power_w=-250,
        balance=0.485,
        balance_is_left=True,
        torque_1_32_nm=3200,
        torque_at_crank=True,
        wheel=Turns(4_000_000_000, 2049, 2048, 32),
        crank=Turns(65_000, 1025, 1024, 16),
        force_n=(300, -40),
        torque_nm=(20.0, -1.5),
        # The supplement's own example: maximum 0xABC, minimum 0x123.
        extreme_angles_deg=(0xABC, 0x123),
        top_dead_spot_deg=358,
        bottom_dead_spot_deg=181,
        energy_kj=999,
        offset_compensation=True,
    )


BARE = CyclingPower(power_w=1)


@pytest.mark.parametrize(
    ("bit", "field", "record"),
    [
        (0, "64", replace(BARE, balance=0.5)),
        (1, "", replace(BARE, balance_is_left=True)),
        (2, "2100", replace(BARE, torque_1_32_nm=33)),
        (3, "", replace(BARE, torque_at_crank=True)),
        (4, "050000000600", replace(BARE, wheel=Turns(5, 6, 2048, 32))),
        (5, "05000600", replace(BARE, crank=Turns(5, 6, 1024, 16))),
        (6, "0700ffff", replace(BARE, force_n=(7, -1))),
        (7, "1000f0ff", replace(BARE, torque_nm=(0.5, -0.5))),
        (8, "0a4001", replace(BARE, extreme_angles_deg=(10, 20))),
        (9, "6301", replace(BARE, top_dead_spot_deg=355)),
        (10, "b000", replace(BARE, bottom_dead_spot_deg=176)),
        (11, "0c00", replace(BARE, energy_kj=12)),
        (12, "", replace(BARE, offset_compensation=True)),
    ],
)
def test_each_field_of_a_power_measurement_alone(
    bit: int, field: str, record: CyclingPower
) -> None:
    packet = struct.pack("<Hh", 1 << bit, 1) + bytes.fromhex(field)
    assert read_measurement(packet) == record


@pytest.mark.parametrize(
    ("half_percents", "balance"), [(0, 0.0), (101, 0.505), (200, 1.0), (201, None), (255, None)]
)
def test_a_balance_that_says_nothing_leaves_the_power(
    half_percents: int, balance: float | None
) -> None:
    # 255 = unknown is from memory; what is above 200 would be more than everything.
    record = read_measurement(struct.pack("<HhB", 1, 180, half_percents))
    assert record == CyclingPower(180, balance=balance)


@pytest.mark.parametrize("power_w", [-32768, -1, 0, 32767])
def test_power_has_a_sign(power_w: int) -> None:
    assert read_measurement(struct.pack("<Hh", 0, power_w)).power_w == power_w


def test_a_vector_of_forces_runs_to_the_end() -> None:
    packet = struct.pack("<BHHH4h", 0b010111, 9, 1024, 45, 100, -20, 0, 32767)
    assert read_vector(packet) == PowerVector(
        crank=Turns(9, 1024, 1024, 16),
        first_deg=45,
        forces_n=(100, -20, 0, 32767),
        direction=1,
    )


def test_a_vector_of_torques_is_in_newton_metres() -> None:
    packet = struct.pack("<B3h", 0b111000, 32, -16, 1)
    assert read_vector(packet) == PowerVector(torques_nm=(1.0, -0.5, 1 / 32), direction=3)


def test_a_vector_without_arrays() -> None:
    assert read_vector(struct.pack("<BHH", 1, 3, 4)) == PowerVector(Turns(3, 4, 1024, 16))


def test_a_vector_with_both_arrays_is_refused() -> None:
    with pytest.raises(PacketProblem, match="forces and torques at once"):
        read_vector(struct.pack("<B4h", 0b1100, 1, 2, 3, 4))


def test_a_vector_that_ends_within_a_value_is_refused() -> None:
    with pytest.raises(PacketProblem, match="middle of a value"):
        read_vector(struct.pack("<BhB", 0b0100, 1, 2))


@pytest.mark.parametrize(
    ("word", "distributed"),
    [(0x0000_0008, False), (0x0010_0008, False), (0x0020_0008, True), (0x0030_0008, False)],
)
def test_features_are_32_bits_and_two_of_them_tell_one_sided_use(
    word: int, distributed: bool
) -> None:
    feature = read_feature(word.to_bytes(4, "little"))
    assert feature == PowerFeature(word)
    assert feature.has(3)
    assert not feature.has(2)
    assert feature.distributed is distributed


def test_speed_and_cadence_counts_the_wheels_time_as_the_cranks() -> None:
    both = struct.pack("<BIHHH", 3, 70_000, 1, 5, 2)
    assert read_speed_and_cadence(both) == SpeedAndCadence(
        Turns(70_000, 1, 1024, 32), Turns(5, 2, 1024, 16)
    )
    assert read_speed_and_cadence(struct.pack("<BHH", 2, 5, 2)) == SpeedAndCadence(
        None, Turns(5, 2, 1024, 16)
    )
    assert read_speed_and_cadence(b"\x00") == SpeedAndCadence()
