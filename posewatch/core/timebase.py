"""Nanoseconds inside, seconds at the borders."""

from __future__ import annotations

from posewatch.core.records import NS_PER_S


def to_ns(t_s: float) -> int:
    """Return whole nanoseconds for seconds."""
    return round(t_s * NS_PER_S)


def to_s(t_ns: int) -> float:
    """Return seconds for nanoseconds."""
    return t_ns / NS_PER_S


def clock_text(t_ns: int) -> str:
    """Return m:ss.t for screens, e.g. 1:04.2."""
    tenths = round(t_ns / (NS_PER_S // 10))
    return f"{tenths // 600}:{tenths // 10 % 60:02d}.{tenths % 10}"
