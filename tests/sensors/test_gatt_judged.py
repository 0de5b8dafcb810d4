"""An independent decoder reads well-formed packets the same: bluetooth-sig 0.6.0.

It is right for well-formed packets only: truncated ones it reads shifted, and the resistance of
2AD2 always with one byte and times ten.
"""

from __future__ import annotations

import random
from typing import TypeVar

import pytest
from bluetooth_sig.gatt.characteristics.csc_measurement import CSCMeasurementCharacteristic
from bluetooth_sig.gatt.characteristics.cycling_power_feature import (
    CyclingPowerFeatureCharacteristic,
)
from bluetooth_sig.gatt.characteristics.cycling_power_measurement import (
    CyclingPowerMeasurementCharacteristic,
)
from bluetooth_sig.gatt.characteristics.cycling_power_vector import (
    CyclingPowerVectorCharacteristic,
)
from bluetooth_sig.gatt.characteristics.heart_rate_measurement import (
    HeartRateMeasurementCharacteristic,
    SensorContactState,
)
from bluetooth_sig.gatt.characteristics.indoor_bike_data import IndoorBikeDataCharacteristic
from bluetooth_sig.gatt.characteristics.sensor_location import SensorLocationValue
from made_packets import made_packet
from sensor_payloads import BIKE, CSC, HEART, POWER, VECTOR

from posewatch.core.sensor_records import (
    CyclingPower,
    HeartRate,
    IndoorBike,
    PowerFeature,
    PowerVector,
    SpeedAndCadence,
    Turns,
)
from posewatch.sensors.gatt import decode
from posewatch.sensors.labels import PLACES

Value = TypeVar("Value", int, float)


def turns(
    count: int | None, seconds: float | None, ticks_per_s: int, count_bits: int
) -> Turns | None:
    if count is None or seconds is None:
        return None
    return Turns(count, round(seconds * ticks_per_s), ticks_per_s, count_bits)


def pair(first: Value | None, second: Value | None) -> tuple[Value, Value] | None:
    return None if first is None or second is None else (first, second)


def test_power_measurements_of_all_flag_words() -> None:
    chance = random.Random(1)
    judge = CyclingPowerMeasurementCharacteristic()
    for flags in range(1 << 13):
        data = made_packet(POWER, flags, chance)
        theirs = judge.parse_value(bytearray(data))
        torque = theirs.accumulated_torque
        balance = theirs.pedal_power_balance
        assert decode(POWER, data) == CyclingPower(
            power_w=theirs.instantaneous_power,
            # More than all is nothing to us.
            balance=None if balance is None or balance > 100 else balance / 100,
            balance_is_left=bool(theirs.flags & 1 << 1),
            torque_1_32_nm=None if torque is None else round(torque * 32),
            torque_at_crank=bool(theirs.flags & 1 << 3),
            wheel=turns(
                theirs.cumulative_wheel_revolutions, theirs.last_wheel_event_time, 2048, 32
            ),
            crank=turns(
                theirs.cumulative_crank_revolutions, theirs.last_crank_event_time, 1024, 16
            ),
            force_n=pair(theirs.maximum_force_magnitude, theirs.minimum_force_magnitude),
            torque_nm=pair(theirs.maximum_torque_magnitude, theirs.minimum_torque_magnitude),
            extreme_angles_deg=pair(theirs.maximum_angle, theirs.minimum_angle),
            top_dead_spot_deg=theirs.top_dead_spot_angle,
            bottom_dead_spot_deg=theirs.bottom_dead_spot_angle,
            energy_kj=theirs.accumulated_energy,
            offset_compensation=bool(theirs.flags & 1 << 12),
        ), f"flags {flags:#x}, {data.hex()}"


def test_power_vectors() -> None:
    chance = random.Random(2)
    judge = CyclingPowerVectorCharacteristic()
    for flags in [flags for flags in range(1 << 6) if flags & 0b1100 != 0b1100] * 20:
        data = made_packet(VECTOR, flags, chance)
        theirs = judge.parse_value(bytearray(data))
        crank = theirs.crank_revolution_data
        assert decode(VECTOR, data) == PowerVector(
            crank=crank and turns(crank.crank_revolutions, crank.last_crank_event_time, 1024, 16),
            first_deg=theirs.first_crank_measurement_angle,
            forces_n=theirs.instantaneous_force_magnitude_array or (),
            torques_nm=theirs.instantaneous_torque_magnitude_array or (),
            direction=theirs.instantaneous_measurement_direction,
        ), data.hex()


def test_power_features() -> None:
    chance = random.Random(3)
    judge = CyclingPowerFeatureCharacteristic()
    for _ in range(500):
        data = chance.randbytes(4)
        assert decode("2A65", data) == PowerFeature(
            int(judge.parse_value(bytearray(data)).features)
        )


def test_speed_and_cadence() -> None:
    chance = random.Random(4)
    judge = CSCMeasurementCharacteristic()
    for flags in list(range(4)) * 100:
        data = made_packet(CSC, flags, chance)
        theirs = judge.parse_value(bytearray(data))
        assert decode(CSC, data) == SpeedAndCadence(
            turns(theirs.cumulative_wheel_revolutions, theirs.last_wheel_event_time, 1024, 32),
            turns(theirs.cumulative_crank_revolutions, theirs.last_crank_event_time, 1024, 16),
        ), data.hex()


CONTACT = {
    SensorContactState.NOT_SUPPORTED: None,
    SensorContactState.NOT_DETECTED: False,
    SensorContactState.DETECTED: True,
}


def test_heart_rates() -> None:
    chance = random.Random(5)
    judge = HeartRateMeasurementCharacteristic()
    for flags in list(range(1 << 5)) * 20:
        data = made_packet(HEART, flags, chance)
        theirs = judge.parse_value(bytearray(data))
        assert decode(HEART, data) == HeartRate(
            rate_bpm=theirs.heart_rate,
            contact=CONTACT[theirs.sensor_contact],
            energy_kj=theirs.energy_expended,
            rr_s=theirs.rr_intervals,
        ), data.hex()


def test_trainers_with_a_narrow_resistance() -> None:
    chance = random.Random(6)
    judge = IndoorBikeDataCharacteristic()
    for flags in range(1 << 13):
        data = made_packet(BIKE, flags, chance)
        theirs = judge.parse_value(bytearray(data))
        resistance = theirs.resistance_level
        assert decode(BIKE, data) == IndoorBike(
            speed_km_h=theirs.instantaneous_speed,
            average_speed_km_h=theirs.average_speed,
            cadence_rpm=theirs.instantaneous_cadence,
            average_cadence_rpm=theirs.average_cadence,
            distance_m=theirs.total_distance,
            resistance=None if resistance is None else round(resistance / 10),
            power_w=theirs.instantaneous_power,
            average_power_w=theirs.average_power,
            energy_kcal=known(theirs.total_energy, 0xFFFF),
            energy_per_h_kcal=known(theirs.energy_per_hour, 0xFFFF),
            energy_per_min_kcal=known(theirs.energy_per_minute, 0xFF),
            heart_rate_bpm=theirs.heart_rate,
            metabolic_equivalent=pytest.approx(theirs.metabolic_equivalent),
            elapsed_s=theirs.elapsed_time,
            remaining_s=theirs.remaining_time,
        ), f"flags {flags:#x}, {data.hex()}"


def known(energy: int | None, unknown: int) -> int | None:
    return None if energy == unknown else energy


def test_places() -> None:
    assert len(PLACES) == len(SensorLocationValue)
    for place in SensorLocationValue:
        theirs = place.name.replace("_", " ").lower()
        ours = PLACES[place].replace(" the ", " ").removesuffix(" place")
        assert ours == theirs
