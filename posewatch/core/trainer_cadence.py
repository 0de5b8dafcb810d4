"""The cadence while a trainer holds the power: too slow, and the trainer must be let go.

Power is torque times angular velocity: at a held power, slower cranks need more torque, and the
rider who cannot give it slows down further. Pushing through makes it worse; only less power ends
it. Where the limits lie is a judgement of ours.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from posewatch.core.timebase import to_ns


@dataclass(frozen=True, slots=True)
class CadenceLimits:
    """What is too slow.

    slow_share: of the planned cadence; unplanned_rpm: where none is planned. slow_s: slower than
    that for so long. unheard_s: a cadence that was told and is not any more for so long is as good
    as too slow: nobody sees it sink.
    """

    slow_share: float = 0.7
    unplanned_rpm: float = 50.0
    slow_s: float = 2.0
    unheard_s: float = 5.0


@dataclass(frozen=True, slots=True)
class Cadence:
    """What is known of the cadence.

    planned_rpm: None = none is. rpm, heard_ns: the last one told and when, None = never. slow_ns:
    since when it is too slow, None = it is not.
    """

    planned_rpm: float | None = None
    rpm: float | None = None
    heard_ns: int | None = None
    slow_ns: int | None = None


def least_rpm(cadence: Cadence, limits: CadenceLimits) -> float:
    """Return the slowest cadence at which the power may be held."""
    if cadence.planned_rpm is None:
        return limits.unplanned_rpm
    return limits.slow_share * cadence.planned_rpm


def heard(cadence: Cadence, t_ns: int, rpm: float, limits: CadenceLimits) -> Cadence:
    """Take in a cadence that was told at t_ns."""
    since_ns = t_ns if cadence.slow_ns is None else cadence.slow_ns
    slow_ns = since_ns if rpm < least_rpm(cadence, limits) else None
    return replace(cadence, rpm=rpm, heard_ns=t_ns, slow_ns=slow_ns)


def why_not_raise(cadence: Cadence, t_ns: int, limits: CadenceLimits) -> str:
    """Return why the power may not be raised at t_ns, empty = it may, or no cadence is told."""
    if cadence.rpm is None:
        return ""
    if _is_unheard(cadence, t_ns, limits):
        return "The cadence is not told any more. Wake its sensor first."
    least = least_rpm(cadence, limits)
    if cadence.rpm < least:
        return f"The cranks turn at {cadence.rpm:.0f} rpm: the rider must pedal {least:.0f} first."
    return ""


def why_let_go(cadence: Cadence, t_ns: int, limits: CadenceLimits) -> str:
    """Return why a held power must be let go at t_ns, empty = it need not."""
    if _is_unheard(cadence, t_ns, limits):
        return (
            f"No cadence was told for {limits.unheard_s:.0f} s, so that nobody sees whether the "
            "pedals grow heavy."
        )
    if cadence.slow_ns is None or t_ns - cadence.slow_ns < to_ns(limits.slow_s):
        return ""
    return (
        f"The cadence sank to {cadence.rpm:.0f} rpm (limit {least_rpm(cadence, limits):.0f}): the "
        "slower, the heavier the pedals at a held power."
    )


def next_ns(cadence: Cadence, limits: CadenceLimits) -> int | None:
    """Return when time alone makes a held power one to let go, None = never."""
    times = []
    if cadence.heard_ns is not None:
        times.append(cadence.heard_ns + to_ns(limits.unheard_s))
    if cadence.slow_ns is not None:
        times.append(cadence.slow_ns + to_ns(limits.slow_s))
    return min(times, default=None)


def _is_unheard(cadence: Cadence, t_ns: int, limits: CadenceLimits) -> bool:
    return cadence.heard_ns is not None and t_ns - cadence.heard_ns >= to_ns(limits.unheard_s)
