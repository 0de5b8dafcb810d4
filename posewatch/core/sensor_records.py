"""What Bluetooth sensors say, decoded: one dataclass a characteristic.

Counters are as the sensor sends them and wrap; :mod:`posewatch.core.sensor_effort` makes power and
cadence of them. None = the sensor does not send it.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Characteristic(StrEnum):
    """The characteristics that are read, by their 16-bit numbers (Bluetooth SIG)."""

    CYCLING_POWER_MEASUREMENT = "2A63"
    CYCLING_POWER_VECTOR = "2A64"
    CYCLING_POWER_FEATURE = "2A65"
    CSC_MEASUREMENT = "2A5B"
    INDOOR_BIKE_DATA = "2AD2"
    HEART_RATE_MEASUREMENT = "2A37"
    SENSOR_LOCATION = "2A5D"
    BATTERY_LEVEL = "2A19"


@dataclass(frozen=True, slots=True)
class Packet:
    """One notification as it came: logged whatever it holds.

    t_ns: of arrival, on the session clock. device: the sensor's platform id.
    """

    t_ns: int
    device: str
    characteristic: str
    data: bytes


@dataclass(frozen=True, slots=True)
class Turns:
    """Revolutions so far and the time of the last, both counters that wrap.

    ticks: in units of 1/ticks_per_s s (1024 or 2048), 16 bits. count_bits: 16 or 32.
    """

    count: int
    ticks: int
    ticks_per_s: int
    count_bits: int


@dataclass(frozen=True, slots=True)
class CyclingPower:
    """2A63. power_w is signed.

    balance: the share (0 to 1) of the pedal named by balance_is_left, None = not sent or unknown.
    torque_1_32_nm: accumulated, in 1/32 N m, 16 bits. torque_at_crank: where it is taken.
    Extremes of force in N, of torque in N m, of their angles and the dead spots in degrees.
    """

    power_w: int
    balance: float | None = None
    balance_is_left: bool = False
    torque_1_32_nm: int | None = None
    torque_at_crank: bool = False
    wheel: Turns | None = None
    crank: Turns | None = None
    force_n: tuple[int, int] | None = None
    torque_nm: tuple[float, float] | None = None
    extreme_angles_deg: tuple[int, int] | None = None
    top_dead_spot_deg: int | None = None
    bottom_dead_spot_deg: int | None = None
    energy_kj: int | None = None
    offset_compensation: bool = False


@dataclass(frozen=True, slots=True)
class PowerVector:
    """2A64: what one crank did since the last one. first_deg: crank angle of the first value.

    forces_n or torques_nm: evenly spaced over the crank's turning, in the order of time.
    direction: 0 unknown, 1 tangential, 2 radial, 3 lateral.
    """

    crank: Turns | None = None
    first_deg: int | None = None
    forces_n: tuple[int, ...] = ()
    torques_nm: tuple[float, ...] = ()
    direction: int = 0


@dataclass(frozen=True, slots=True)
class PowerFeature:
    """2A65: what a power sensor can do; bits as the specification numbers them."""

    bits: int

    def has(self, bit: int) -> bool:
        """Whether one feature is there."""
        return bool(self.bits >> bit & 1)

    @property
    def distributed(self) -> bool:
        """Whether its power is that of one side, to be added to another sensor's (bits 20-21)."""
        return (self.bits >> 20 & 3) == 2


@dataclass(frozen=True, slots=True)
class SpeedAndCadence:
    """2A5B."""

    wheel: Turns | None = None
    crank: Turns | None = None


@dataclass(frozen=True, slots=True)
class IndoorBike:
    """2AD2, whole: records split over notifications are put together. Speeds in km/h."""

    speed_km_h: float | None = None
    average_speed_km_h: float | None = None
    cadence_rpm: float | None = None
    average_cadence_rpm: float | None = None
    distance_m: int | None = None
    resistance: int | None = None
    power_w: int | None = None
    average_power_w: int | None = None
    energy_kcal: int | None = None
    energy_per_h_kcal: int | None = None
    energy_per_min_kcal: int | None = None
    heart_rate_bpm: int | None = None
    metabolic_equivalent: float | None = None
    elapsed_s: int | None = None
    remaining_s: int | None = None


@dataclass(frozen=True, slots=True)
class HeartRate:
    """2A37. contact: None = the sensor cannot tell. rr_s: intervals since the last packet."""

    rate_bpm: int
    contact: bool | None = None
    energy_kj: int | None = None
    rr_s: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Location:
    """2A5D: where the sensor sits; the number as the specification lists it."""

    number: int


@dataclass(frozen=True, slots=True)
class Battery:
    """2A19, in percent."""

    percent: int


SensorRecord = (
    CyclingPower
    | PowerVector
    | PowerFeature
    | SpeedAndCadence
    | IndoorBike
    | HeartRate
    | Location
    | Battery
)
