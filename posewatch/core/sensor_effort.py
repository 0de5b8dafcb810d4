"""From one sensor's records to its power and cadence. Counters of two sensors are never mixed.

One sensor may say the same thing in several ways. The cadence that its crank counters give goes
before the one it states, and the power measurement before the fitness machine's; a way that has
given a quantity is left only for a better one, until the sensor connects anew.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from posewatch.core import revolutions
from posewatch.core.records import NS_PER_S
from posewatch.core.revolutions import Rotation
from posewatch.core.sensor_records import (
    CyclingPower,
    IndoorBike,
    SensorRecord,
    SpeedAndCadence,
    Turns,
)

#: Beyond these a value is refused; no rider on a trainer gets there.
FASTEST_CRANK_RPM = 250.0
LARGEST_POWER_W = 3000.0
FASTEST_KM_H = 150.0
#: Speed is no more than a label here, so every wheel is taken to be of a common road size.
WHEEL_M = 2.1
FASTEST_WHEEL_RPM = FASTEST_KM_H / 3.6 / WHEEL_M * 60.0
#: The same record again so soon is the same notification, delivered twice.
REPEAT_NS = NS_PER_S // 20

EffortRecord = CyclingPower | SpeedAndCadence | IndoorBike
EffortKind = type[CyclingPower] | type[SpeedAndCadence] | type[IndoorBike]
#: Ways to say a quantity, the best first.
POWER_KINDS: tuple[EffortKind, ...] = (CyclingPower, IndoorBike)
CADENCE_KINDS: tuple[EffortKind, ...] = (CyclingPower, SpeedAndCadence, IndoorBike)
SPEED_KINDS = CADENCE_KINDS


@dataclass(frozen=True, slots=True)
class DeviceReading:
    """What one packet of one sensor tells of the effort; NaN = it does not tell.

    power_w: signed. torque_power_w: from accumulated crank torque, to check power_w by; mean over
    the crank's last pair of events. speed_km_h: a label.
    """

    t_ns: int
    device: str
    power_w: float
    cadence_rpm: float
    torque_power_w: float = math.nan
    speed_km_h: float = math.nan


@dataclass(frozen=True, slots=True)
class DeviceState:
    """One sensor since it connected.

    crank, wheel: its counters, of the best kind of record that sends them. The three kinds: which
    record each quantity is taken from, None = nothing has given it. power_w, cadence_rpm,
    speed_km_h: the last values, NaN = not known. recent: the last record of each kind and when it
    first came. n_refused: values refused as implausible. n_repeats: packets delivered twice. Both
    count on over reconnections.
    """

    device: str
    crank: Rotation = Rotation()
    wheel: Rotation = Rotation()
    power_kind: EffortKind | None = None
    cadence_kind: EffortKind | None = None
    speed_kind: EffortKind | None = None
    power_w: float = math.nan
    cadence_rpm: float = math.nan
    speed_km_h: float = math.nan
    recent: tuple[tuple[EffortRecord, int], ...] = ()
    n_refused: int = 0
    n_repeats: int = 0


def start(device: str) -> DeviceState:
    """Return the state of a sensor of which nothing has come. device: its platform id."""
    return DeviceState(device)


def reconnected(state: DeviceState) -> DeviceState:
    """Return the state after a new connection: counters may have moved, or begun anew."""
    return DeviceState(state.device, n_refused=state.n_refused, n_repeats=state.n_repeats)


def step(
    state: DeviceState, t_ns: int, record: SensorRecord
) -> tuple[DeviceState, DeviceReading | None]:
    """Take in one record that arrived at t_ns; return what it tells of the effort, if anything."""
    if not isinstance(record, CyclingPower | SpeedAndCadence | IndoorBike):
        return state, None
    if _is_repeat(state, t_ns, record):
        return replace(state, n_repeats=state.n_repeats + 1), None
    others = (pair for pair in state.recent if type(pair[0]) is not type(record))
    state = replace(state, recent=(*others, (record, t_ns)))
    state, power_w = _power(state, record)
    state, cadence_rpm, torque_power_w = _cadence(state, t_ns, record)
    state, speed_km_h = _speed(state, t_ns, record)
    told = (power_w, cadence_rpm, torque_power_w, speed_km_h)
    if all(math.isnan(value) for value in told):
        return state, None
    return state, DeviceReading(t_ns, state.device, *told)


def tick(state: DeviceState, t_ns: int) -> DeviceState:
    """Let time pass: a crank or wheel of which no new event has come for long stands."""
    crank, wheel = (revolutions.at(counter, t_ns) for counter in (state.crank, state.wheel))
    return replace(
        state,
        crank=crank,
        wheel=wheel,
        cadence_rpm=0.0 if crank.rpm == 0.0 else state.cadence_rpm,
        speed_km_h=0.0 if wheel.rpm == 0.0 else state.speed_km_h,
    )


def _is_repeat(state: DeviceState, t_ns: int, record: EffortRecord) -> bool:
    return any(
        before == record and t_ns - first_ns < REPEAT_NS for before, first_ns in state.recent
    )


def _gives(kinds: tuple[EffortKind, ...], so_far: EffortKind | None, record: EffortRecord) -> bool:
    """Tell whether a record is of as good a kind as any that has given a quantity so far."""
    return so_far is None or kinds.index(type(record)) <= kinds.index(so_far)


def _power(state: DeviceState, record: EffortRecord) -> tuple[DeviceState, float]:
    power_w = None if isinstance(record, SpeedAndCadence) else record.power_w
    if power_w is None or not _gives(POWER_KINDS, state.power_kind, record):
        return state, math.nan
    state, value = _plausible(state, float(power_w), LARGEST_POWER_W)
    return replace(state, power_kind=type(record), power_w=value), value


def _cadence(
    state: DeviceState, t_ns: int, record: EffortRecord
) -> tuple[DeviceState, float, float]:
    """Return the cadence, and the power that the torque of the same turns tells."""
    said = record.cadence_rpm if isinstance(record, IndoorBike) else record.crank
    if said is None or not _gives(CADENCE_KINDS, state.cadence_kind, record):
        return state, math.nan, math.nan
    crank = state.crank if state.cadence_kind is type(record) else Rotation()
    if isinstance(said, Turns):
        at_crank = isinstance(record, CyclingPower) and record.torque_at_crank
        torque = record.torque_1_32_nm if isinstance(record, CyclingPower) and at_crank else None
        crank, refused = revolutions.follow(crank, t_ns, said, FASTEST_CRANK_RPM, torque)
        state = replace(state, n_refused=state.n_refused + refused)
        value = crank.rpm
    else:
        state, value = _plausible(state, said, FASTEST_CRANK_RPM)
    state = replace(state, crank=crank, cadence_kind=type(record), cadence_rpm=value)
    return state, value, crank.torque_power_w


def _speed(state: DeviceState, t_ns: int, record: EffortRecord) -> tuple[DeviceState, float]:
    said = record.speed_km_h if isinstance(record, IndoorBike) else record.wheel
    if said is None or not _gives(SPEED_KINDS, state.speed_kind, record):
        return state, math.nan
    wheel = state.wheel if state.speed_kind is type(record) else Rotation()
    if isinstance(said, Turns):
        wheel, refused = revolutions.follow(wheel, t_ns, said, FASTEST_WHEEL_RPM)
        state = replace(state, n_refused=state.n_refused + refused)
        value = wheel.rpm * WHEEL_M * 60.0 / 1000.0
    else:
        state, value = _plausible(state, said, FASTEST_KM_H)
    return replace(state, wheel=wheel, speed_kind=type(record), speed_km_h=value), value


def _plausible(state: DeviceState, value: float, largest: float) -> tuple[DeviceState, float]:
    """Return a value, or NaN and one refusal more where it is beyond what can be."""
    if abs(value) <= largest:
        return state, value
    return replace(state, n_refused=state.n_refused + 1), math.nan
