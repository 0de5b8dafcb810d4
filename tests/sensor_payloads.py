"""Packets whose meaning is known.

Those marked HEARD were sent by real sensors and stand in public bug reports; their counters are the
devices' own. Those marked MADE were put together from the layouts of the Bluetooth SIG's GATT
Specification Supplement, and their values by hand.
"""

from __future__ import annotations

from dataclasses import dataclass

from posewatch.core.sensor_records import (
    Characteristic,
    CyclingPower,
    HeartRate,
    IndoorBike,
    SensorRecord,
    SpeedAndCadence,
    Turns,
)

HEARD = "from a public bug report"
MADE = "made by hand from the supplement"

POWER = Characteristic.CYCLING_POWER_MEASUREMENT
VECTOR = Characteristic.CYCLING_POWER_VECTOR
CSC = Characteristic.CSC_MEASUREMENT
BIKE = Characteristic.INDOOR_BIKE_DATA
HEART = Characteristic.HEART_RATE_MEASUREMENT


@dataclass(frozen=True, slots=True)
class Payload:
    """One packet and what it says."""

    characteristic: Characteristic
    hex: str
    record: SensorRecord
    source: str

    @property
    def data(self) -> bytes:
        """The packet."""
        return bytes.fromhex(self.hex)


@dataclass(frozen=True, slots=True)
class Sequence:
    """Packets of one sensor, one after another, and the cadence between neighbours.

    rpm: one less than packets; None = the crank made no turn between the two.
    """

    payloads: tuple[Payload, ...]
    rpm: tuple[float | None, ...]


def _crank(count: int, ticks: int) -> Turns:
    return Turns(count, ticks, ticks_per_s=1024, count_bits=16)


def _wheel(count: int, ticks: int, ticks_per_s: int) -> Turns:
    return Turns(count, ticks, ticks_per_s, count_bits=32)


def _power(hex_: str, source: str, record: CyclingPower) -> Payload:
    return Payload(POWER, hex_, record, source)


#: The time of the last turn wraps between the two.
WRAPPING = Sequence(
    (
        _power("20000b000a6ed7fc", HEARD, CyclingPower(11, crank=_crank(28170, 64727))),
        _power("20000b000b6e7501", HEARD, CyclingPower(11, crank=_crank(28171, 373))),
    ),
    rpm=(51.98,),
)
#: The last turn is told over and over: the cadence has to go to 0 by time.
STANDING = Sequence(
    (_power("20000000156ec336", HEARD, CyclingPower(0, crank=_crank(28181, 14019))),) * 3,
    rpm=(None, None),
)
STARTING = Sequence(
    (
        _power("200000000100000b", HEARD, CyclingPower(0, crank=_crank(1, 2816))),
        _power("20002d000200b812", HEARD, CyclingPower(45, crank=_crank(2, 4792))),
        _power("20002e000300ae17", HEARD, CyclingPower(46, crank=_crank(3, 6062))),
        _power("2000390005003120", HEARD, CyclingPower(57, crank=_crank(5, 8241))),
    ),
    rpm=(31.093, 48.378, 56.393),
)
#: 159 and 223 thirty-seconds: 4.96875 and 6.96875 N m.
WITH_TORQUE = Sequence(
    (
        _power(
            "2c0000009f000c00e542",
            HEARD,
            CyclingPower(0, torque_1_32_nm=159, torque_at_crank=True, crank=_crank(12, 17125)),
        ),
        _power(
            "2c000000df002b0039f6",
            HEARD,
            CyclingPower(0, torque_1_32_nm=223, torque_at_crank=True, crank=_crank(43, 63033)),
        ),
    ),
    rpm=(41.488,),
)
#: One trainer through two services: the wheel's two turns took 2260 / 2048 and 1130 / 1024 s.
WHEEL_BY_POWER = Sequence(
    (
        _power(
            "30008800a25e0100af1d4b63967f",
            HEARD,
            CyclingPower(136, wheel=_wheel(89762, 7599, 2048), crank=_crank(25419, 32662)),
        ),
        _power(
            "30008c00a45e010083264b63967f",
            HEARD,
            CyclingPower(140, wheel=_wheel(89764, 9859, 2048), crank=_crank(25419, 32662)),
        ),
    ),
    rpm=(None,),
)
WHEEL_BY_SPEED = Sequence(
    (
        Payload(
            CSC,
            "03a25e01006d0e4b63967f",
            SpeedAndCadence(_wheel(89762, 3693, 1024), _crank(25419, 32662)),
            HEARD,
        ),
        Payload(
            CSC,
            "03a45e0100d7124b63967f",
            SpeedAndCadence(_wheel(89764, 4823, 1024), _crank(25419, 32662)),
            HEARD,
        ),
    ),
    rpm=(None,),
)
SPEED_AND_CADENCE = Sequence(
    (
        Payload(
            CSC,
            "03a4000000184e4000a74c",
            SpeedAndCadence(_wheel(164, 19992, 1024), _crank(64, 19623)),
            HEARD,
        ),
        Payload(
            CSC,
            "03a600000072524100c050",
            SpeedAndCadence(_wheel(166, 21106, 1024), _crank(65, 20672)),
            HEARD,
        ),
    ),
    rpm=(58.57,),
)
#: Power below zero in the second.
BALANCED = Sequence(
    (
        _power(
            "2300c8006564000010",
            MADE,
            CyclingPower(200, balance=0.505, balance_is_left=True, crank=_crank(100, 4096)),
        ),
        _power(
            "2300fbff6566005515",
            MADE,
            CyclingPower(-5, balance=0.505, balance_is_left=True, crank=_crank(102, 5461)),
        ),
    ),
    rpm=(90.022,),
)
#: Count and time wrap together: two turns in 1365 ticks.
BOTH_WRAPPING = Sequence(
    (
        _power("2000c800ffff84fd", MADE, CyclingPower(200, crank=_crank(65535, 64900))),
        _power("2000c8000100d902", MADE, CyclingPower(200, crank=_crank(1, 729))),
    ),
    rpm=(90.022,),
)
SEQUENCES = (
    WRAPPING,
    STANDING,
    STARTING,
    WITH_TORQUE,
    WHEEL_BY_POWER,
    WHEEL_BY_SPEED,
    SPEED_AND_CADENCE,
    BALANCED,
    BOTH_WRAPPING,
)

#: 100 N m of torque so far, the wheel's last turn at 1.0 s.
FULL_POWER = _power(
    "3f00fb0061800c40e201000008e803e8fd",
    MADE,
    CyclingPower(
        251,
        balance=0.485,
        balance_is_left=True,
        torque_1_32_nm=3200,
        torque_at_crank=True,
        wheel=_wheel(123456, 2048, 2048),
        crank=_crank(1000, 65000),
    ),
)
#: The resistance has two bytes.
WIDE_RESISTANCE = Payload(
    BIKE,
    "6402000000001400000000",
    IndoorBike(speed_km_h=0.0, cadence_rpm=0.0, resistance=20, power_w=0, heart_rate_bpm=0),
    HEARD,
)
SINGLE = (
    FULL_POWER,
    Payload(
        BIKE,
        "4402aa052e00180046",
        IndoorBike(speed_km_h=14.5, cadence_rpm=23.0, power_w=24, heart_rate_bpm=70),
        HEARD,
    ),
    Payload(
        BIKE,
        "4402da020201220100",
        IndoorBike(speed_km_h=7.3, cadence_rpm=129.0, power_w=290, heart_rate_bpm=0),
        HEARD,
    ),
    Payload(
        BIKE,
        "54086f0596005c030022009403",
        IndoorBike(speed_km_h=13.91, cadence_rpm=75.0, distance_m=860, power_w=34, elapsed_s=916),
        HEARD,
    ),
    WIDE_RESISTANCE,
    Payload(
        BIKE,
        "fe02fe0934088e007c004a01001400c700680000",
        IndoorBike(
            speed_km_h=25.58,
            average_speed_km_h=21.0,
            cadence_rpm=71.0,
            average_cadence_rpm=62.0,
            distance_m=330,
            resistance=20,
            power_w=199,
            average_power_w=104,
            heart_rate_bpm=0,
        ),
        HEARD,
    ),
    Payload(HEART, "103eb103", HeartRate(62, rr_s=(945 / 1024,)), HEARD),
    #: One byte too many, as some chest straps send it.
    Payload(HEART, "103eb103de", HeartRate(62, rr_s=(945 / 1024,)), HEARD),
    #: The strap is not worn.
    Payload(HEART, "0400", HeartRate(0, contact=False), HEARD),
)
PAYLOADS = (
    tuple(dict.fromkeys(payload for sequence in SEQUENCES for payload in sequence.payloads))
    + SINGLE
)
