"""One sensor's power and cadence. Records are real packets (public bug reports), decoded by hand;
-5 W and 90.022 rpm are project arithmetic on the published layout.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from posewatch.core import sensor_effort
from posewatch.core.sensor_effort import DeviceReading, DeviceState
from posewatch.core.sensor_records import (
    Battery,
    CyclingPower,
    HeartRate,
    IndoorBike,
    PowerVector,
    SensorRecord,
    SpeedAndCadence,
    Turns,
)
from posewatch.core.timebase import to_ns

NAN = math.nan
Arrivals = Iterable[tuple[float, SensorRecord]]


def crank(count: int, ticks: int) -> Turns:
    return Turns(count, ticks, 1024, 16)


def fed(
    arrivals: Arrivals, state: DeviceState | None = None
) -> tuple[DeviceState, list[DeviceReading | None]]:
    state = sensor_effort.start("a") if state is None else state
    found = []
    for t_s, record in arrivals:
        state, reading = sensor_effort.step(state, to_ns(t_s), record)
        found.append(reading)
    return state, found


def last(arrivals: Arrivals) -> DeviceReading:
    reading = fed(arrivals)[1][-1]
    assert reading is not None
    return reading


def pedalled(
    seconds: float, rpm: float = 90.0, power_w: int = 200, start_s: float = 0.0, first: int = 500
) -> list[tuple[float, SensorRecord]]:
    """Return packets of a crank at an even pace, four a second."""
    found: list[tuple[float, SensorRecord]] = []
    for k in range(round(seconds * 4)):
        t_s = start_s + k / 4
        turn = math.floor(t_s * rpm / 60.0)
        ticks = round(turn * 60.0 / rpm * 1024) % 65536
        found.append((t_s, CyclingPower(power_w, crank=crank((first + turn) % 65536, ticks))))
    return found


def test_cadence_and_power_of_real_packets() -> None:
    one = CyclingPower(11, crank=crank(28170, 64727))
    other = CyclingPower(11, crank=crank(28171, 373))
    assert math.isnan(last([(0.0, one)]).cadence_rpm)
    reading = last([(0.0, one), (1.2, other)])
    assert (reading.power_w, reading.t_ns, reading.device) == (11.0, to_ns(1.2), "a")
    assert reading.cadence_rpm == pytest.approx(51.98, abs=0.005)


def test_power_is_signed() -> None:
    first = CyclingPower(200, 0.505, crank=crank(100, 4096))
    reading = last([(0.0, first), (1.33, CyclingPower(-5, 0.505, crank=crank(102, 5461)))])
    assert reading.power_w == -5.0
    assert reading.cadence_rpm == pytest.approx(90.022, abs=0.0005)


@pytest.mark.parametrize(
    ("record", "power_w", "cadence_rpm", "speed_km_h"),
    [
        (IndoorBike(14.50, cadence_rpm=23.0, power_w=24, heart_rate_bpm=70), 24.0, 23.0, 14.50),
        (IndoorBike(7.30, cadence_rpm=129.0, power_w=290), 290.0, 129.0, 7.30),
        (IndoorBike(13.91, cadence_rpm=75.0, distance_m=860, power_w=34), 34.0, 75.0, 13.91),
        (IndoorBike(25.58, 21.0, 71.0, 62.0, power_w=199, average_power_w=104), 199.0, 71.0, 25.58),
        (IndoorBike(resistance=20, power_w=0), 0.0, NAN, NAN),
        (IndoorBike(average_power_w=104, average_cadence_rpm=62.0, speed_km_h=1.0), NAN, NAN, 1.0),
    ],
)
def test_an_indoor_bike_says_it_directly(
    record: IndoorBike, power_w: float, cadence_rpm: float, speed_km_h: float
) -> None:
    reading = last([(0.0, record)])
    said = (reading.power_w, reading.cadence_rpm, reading.speed_km_h)
    assert said == pytest.approx((power_w, cadence_rpm, speed_km_h), nan_ok=True)


def test_a_trainer_s_wheel_gives_a_speed_and_its_standing_crank_none() -> None:
    still = crank(25419, 32662)
    power = [
        (0.0, CyclingPower(136, wheel=Turns(89762, 7599, 2048, 32), crank=still)),
        (1.1, CyclingPower(140, wheel=Turns(89764, 9859, 2048, 32), crank=still)),
    ]
    speed = [
        (0.0, SpeedAndCadence(Turns(89762, 3693, 1024, 32), still)),
        (1.1, SpeedAndCadence(Turns(89764, 4823, 1024, 32), still)),
    ]
    # Two turns of a 2.1 m wheel in 1.1035 s.
    for arrivals in (power, speed):
        assert last(arrivals).speed_km_h == pytest.approx(4.2 / 1.1035 * 3.6, abs=0.01)
    assert last([*power, (2.2, CyclingPower(140, crank=still))]).cadence_rpm == 0.0


def test_a_crank_that_stands_has_cadence_zero_by_time() -> None:
    still = CyclingPower(0, crank=crank(28181, 14019))
    found = fed((k / 4, still) for k in range(12))[1]
    cadences = [reading.cadence_rpm for reading in found if reading is not None]
    assert len(cadences) == 12
    assert all(math.isnan(rpm) for rpm in cadences[:9])
    assert cadences[9:] == [0.0, 0.0, 0.0]


def test_time_alone_stops_a_sensor_that_falls_silent_with_its_crank() -> None:
    state, _ = fed(pedalled(5.0))
    assert state.cadence_rpm == pytest.approx(90.0, abs=0.2)
    last_ns = to_ns(4.75)
    assert sensor_effort.tick(state, last_ns + to_ns(1.0)).cadence_rpm == state.cadence_rpm
    assert sensor_effort.tick(state, last_ns + to_ns(2.1)).cadence_rpm == 0.0
    # How often time is let pass changes nothing of what the next packets say.
    ticked = state
    for k in range(20):
        ticked = sensor_effort.tick(ticked, last_ns + to_ns(k * 0.01))
    more = pedalled(2.0, start_s=5.0)
    assert repr(fed(more, ticked)[1]) == repr(fed(more, state)[1])


def test_a_stated_cadence_is_left_as_it_is_by_time() -> None:
    state, _ = fed([(0.0, IndoorBike(30.0, cadence_rpm=90.0, power_w=200))])
    assert sensor_effort.tick(state, to_ns(60.0)).cadence_rpm == 90.0


def test_crank_torque_tells_the_power_beside_and_wheel_torque_does_not() -> None:
    def pair(at_crank: bool) -> DeviceReading:
        said = [
            CyclingPower(0, torque_1_32_nm=torque, torque_at_crank=at_crank, crank=turns)
            for torque, turns in ((159, crank(12, 17125)), (223, crank(43, 63033)))
        ]
        return last([(0.0, said[0]), (44.9, said[1])])

    assert pair(at_crank=True).torque_power_w == pytest.approx(0.2803, abs=1e-4)
    assert pair(at_crank=True).power_w == 0.0
    assert math.isnan(pair(at_crank=False).torque_power_w)


# --- one sensor that says it in several ways -----------------------------------------------------


def test_the_best_way_to_say_a_quantity_is_kept_to() -> None:
    bike = IndoorBike(30.0, cadence_rpm=70.0, power_w=170)
    power = pedalled(3.0)
    mixed = [(t_s + 0.1, bike) for t_s, _ in power]
    state, found = fed(sorted([*power, *mixed], key=lambda pair: pair[0]))
    # The indoor bike is believed of the speed alone, once the better record has come.
    of_bike = [r for r in found[2:] if r is not None and not math.isnan(r.speed_km_h)]
    assert all(math.isnan(r.power_w) and math.isnan(r.cadence_rpm) for r in of_bike)
    assert (state.power_w, state.speed_km_h) == (200.0, 30.0)
    assert state.cadence_rpm == pytest.approx(90.0, abs=0.2)


def test_a_better_way_that_comes_later_takes_over() -> None:
    bike: Arrivals = [(0.0, IndoorBike(30.0, cadence_rpm=70.0, power_w=170))]
    state, found = fed([*bike, *pedalled(3.0, start_s=1.0)])
    assert found[0] is not None
    assert (found[0].power_w, found[0].cadence_rpm) == (170.0, 70.0)
    assert state.cadence_rpm == pytest.approx(90.0, abs=0.2)


def test_counters_of_two_characteristics_are_never_paired() -> None:
    counts = [
        (t, SpeedAndCadence(crank=crank(9000 + n, 700 * n))) for n, t in enumerate((0.0, 0.7))
    ]
    state, found = fed([*counts, (1.4, CyclingPower(200, crank=crank(20, 65000)))])
    assert found[-1] is not None
    assert math.isnan(found[-1].cadence_rpm)
    assert state.n_refused == 0


def test_records_that_tell_nothing_of_the_effort_give_no_reading() -> None:
    records: list[SensorRecord] = [
        Battery(80),
        HeartRate(120),
        PowerVector(crank(1, 2)),
        SpeedAndCadence(),
        SpeedAndCadence(crank=crank(1, 2)),  # the first of a pair
    ]
    assert fed(enumerate(records))[1] == [None] * 5


# --- what is refused, dropped, begun anew --------------------------------------------------------


@pytest.mark.parametrize(
    ("record", "n_refused"),
    [
        (CyclingPower(3000), 0),
        (CyclingPower(3001), 1),
        (CyclingPower(-32768), 1),
        (IndoorBike(151.0, cadence_rpm=250.5, power_w=32767), 3),
    ],
)
def test_implausible_values_are_refused_and_counted(record: SensorRecord, n_refused: int) -> None:
    state, found = fed([(0.0, record)])
    assert state.n_refused == n_refused
    assert (found[0] is None) == (n_refused > 0)


def test_a_refused_cadence_leaves_the_power() -> None:
    state, found = fed([(0.0, CyclingPower(200, crank=crank(5, 0)))])
    state, found = fed([(1.0, CyclingPower(210, crank=crank(15, 1024)))], state)
    assert found[0] is not None
    assert found[0].power_w == 210.0
    assert math.isnan(found[0].cadence_rpm)
    assert state.n_refused == 1


@settings(max_examples=25, derandomize=True, deadline=None)
@given(st.integers(1, 4), st.floats(35.0, 130.0))
def test_packets_delivered_several_times_change_nothing(n_times: int, rpm: float) -> None:
    # Each reconnection on one platform adds a delivery: 8 sent come as 8, 16, 24.
    once = pedalled(6.0, rpm)
    often = [(t_s + 0.005 * k, record) for t_s, record in once for k in range(n_times)]
    state, found = fed(often)
    kept = [reading for reading in found if reading is not None]
    assert repr(kept) == repr(fed(once)[1])
    assert state.n_repeats == len(once) * (n_times - 1)
    assert state.n_refused == 0


def test_a_new_connection_begins_the_pair_anew_and_keeps_the_counts() -> None:
    state, _ = fed([*pedalled(3.0), (3.0, CyclingPower(9999))])
    again = sensor_effort.reconnected(state)
    assert (again.device, again.n_refused) == ("a", 1)
    # Without that, a counter that stands elsewhere would be refused, or make a false cadence.
    later, found = fed(pedalled(3.0, start_s=20.0, first=501), again)
    assert found[0] is not None
    assert math.isnan(found[0].cadence_rpm)
    assert later.cadence_rpm == pytest.approx(90.0, abs=0.2)
    assert later.n_refused == 1


def test_two_sensors_keep_their_own_counters() -> None:
    left, right = sensor_effort.start("left"), sensor_effort.start("right")
    lefts, rights = pedalled(4.0, 90.0), pedalled(4.0, 90.0, first=41000)
    for (t_s, one), (_, other) in zip(lefts, rights, strict=True):
        left, _ = sensor_effort.step(left, to_ns(t_s), one)
        right, _ = sensor_effort.step(right, to_ns(t_s + 0.05), other)
    for state in (left, right):
        assert state.cadence_rpm == pytest.approx(90.0, abs=0.2)
        assert state.n_refused == 0
