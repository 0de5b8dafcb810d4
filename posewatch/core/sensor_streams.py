"""The values of one connection to a sensor: which are missed, and which come twice."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from posewatch.core.records import NS_PER_S

#: The same bytes again so soon say nothing new: sensors send at 1 to 4 Hz.
REPEAT_NS = NS_PER_S // 10


@dataclass(frozen=True, slots=True)
class Stream:
    """The values of one characteristic in this connection; last_ns None = none came yet."""

    characteristic: str
    last_ns: int | None = None
    changed_ns: int = 0
    data: bytes = b""


def with_value(
    streams: Iterable[Stream], t_ns: int, characteristic: str, data: bytes
) -> tuple[Stream, ...]:
    """Return the streams after a value of one of them has come."""
    return tuple(
        one
        if one.characteristic != characteristic
        else Stream(characteristic, t_ns, t_ns if data != one.data else one.changed_ns, data)
        for one in streams
    )


def silent(streams: Iterable[Stream], opened_ns: int, t_ns: int, silent_ns: int) -> frozenset[str]:
    """Return the characteristics whose silence at t_ns is a fault.

    Those that gave values in this connection and stopped; where none gives any, all. One that
    never gave a value beside others that do is the sensor's way: some announce more than they send.

    Args:
        opened_ns: since when the connection stands.
        silent_ns: without a value for so long a stream is silent.
    """
    streams, late_ns = tuple(streams), t_ns - silent_ns
    heard = [one for one in streams if one.last_ns is not None]
    stopped = [one for one in heard if one.last_ns is not None and one.last_ns <= late_ns]
    if len(stopped) == len(heard):
        unheard = [one for one in streams if one.last_ns is None]
        stopped += unheard if opened_ns <= late_ns else []
    return frozenset(one.characteristic for one in stopped)


def next_check_ns(streams: Iterable[Stream], opened_ns: int, t_ns: int, silent_ns: int) -> int:
    """Return when one of the streams may next be found silent."""
    heard = [one.last_ns for one in streams if one.last_ns is not None]
    check_ns = min(heard, default=opened_ns) + silent_ns
    return check_ns if check_ns > t_ns else t_ns + silent_ns


def is_repeat(stream: Stream, t_ns: int, data: bytes, within_ns: int = REPEAT_NS) -> bool:
    """Whether a value is the one before, delivered twice.

    A stack that kept an old subscription delivers each notification again at once.
    """
    return stream.last_ns is not None and data == stream.data and t_ns - stream.last_ns < within_ns
