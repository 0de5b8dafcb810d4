"""Turns a minute from a sensor's counter of revolutions and the time of the last; both wrap.

rpm = 60 * new revolutions / time between their events, on the sensor's own clock (Bluetooth SIG,
Cycling Power and Cycling Speed and Cadence services). A counter that does not move tells nothing
new: the last value holds, and is 0 once the crank must be standing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from posewatch.core.records import NS_PER_S
from posewatch.core.sensor_records import Turns

#: Without a new event the last value holds so long, by elapsed time.
STANDS_AFTER_NS = 2 * NS_PER_S
STANDS_AFTER_PERIODS = 2
#: A pair of events that makes less than this has a stop in it, and says nothing of the pace.
SLOWEST_RPM = 15.0
#: After this share of the time counter's round, what it says may be a round too little.
NEAR_WRAP = 0.9
TICKS_ROUND = 1 << 16
TORQUE_ROUND = 1 << 16
TORQUE_UNIT_NM = 1 / 32


@dataclass(frozen=True, slots=True)
class Rotation:
    """What one counter said at its last new event, and the pace since the one before.

    event_ns: arrival of that event. torque_1_32_nm: accumulated torque that came with it.
    period_ns: of one revolution, 0 = not known. rpm: NaN = not known, held between events, 0 = it
    stands. torque_power_w: mean power over the last pair of events from the torque, likewise.
    """

    last: Turns | None = None
    torque_1_32_nm: int | None = None
    event_ns: int = 0
    period_ns: int = 0
    rpm: float = math.nan
    torque_power_w: float = math.nan


def follow(
    before: Rotation,
    t_ns: int,
    turns: Turns,
    fastest_rpm: float,
    torque_1_32_nm: int | None = None,
) -> tuple[Rotation, bool]:
    """Take in what a counter says at t_ns; return where it stands and whether it was refused.

    Refused is a pace over fastest_rpm: a counter that jumped or started anew. The next pair begins
    with what was refused.

    Args:
        torque_1_32_nm: accumulated torque of the same packet, None = not sent.
    """
    anew = Rotation(turns, torque_1_32_nm, t_ns)
    if before.last is None:
        return anew, False
    n_turns = (turns.count - before.last.count) % (1 << turns.count_bits)
    if n_turns == 0:
        return at(before, t_ns), False
    round_ns = TICKS_ROUND * NS_PER_S / turns.ticks_per_s
    if t_ns - before.event_ns > NEAR_WRAP * round_ns:
        return anew, False
    took_s = (turns.ticks - before.last.ticks) % TICKS_ROUND / turns.ticks_per_s
    rpm = 60.0 * n_turns / took_s if took_s else math.inf
    if rpm > fastest_rpm:
        return anew, True
    if rpm < SLOWEST_RPM:
        return anew, False
    period_ns = round(took_s / n_turns * NS_PER_S)
    power_w = _torque_power_w(before.torque_1_32_nm, torque_1_32_nm, took_s)
    return replace(anew, period_ns=period_ns, rpm=rpm, torque_power_w=power_w), False


def at(rotation: Rotation, t_ns: int) -> Rotation:
    """Return a rotation as it stands at t_ns with no new event: held, then 0."""
    if rotation.last is None or rotation.rpm == 0.0:
        return rotation
    stands_after_ns = max(STANDS_AFTER_NS, STANDS_AFTER_PERIODS * rotation.period_ns)
    if t_ns - rotation.event_ns <= stands_after_ns:
        return rotation
    has_torque = rotation.torque_1_32_nm is not None
    return replace(rotation, rpm=0.0, torque_power_w=0.0 if has_torque else math.nan)


def _torque_power_w(before: int | None, now: int | None, took_s: float) -> float:
    """Return 2 pi dTorque / dt: each revolution adds its mean torque (SIG, Cycling Power)."""
    if before is None or now is None:
        return math.nan
    torque_nm = (now - before) % TORQUE_ROUND * TORQUE_UNIT_NM
    return 2.0 * math.pi * torque_nm / took_s
