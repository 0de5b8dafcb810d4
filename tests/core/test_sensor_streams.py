"""Streams of values: which are missed, and which come twice."""

from __future__ import annotations

from dataclasses import replace

from posewatch.core.sensor_streams import Stream, is_repeat, next_check_ns, silent, with_value
from posewatch.core.timebase import to_ns

POWER, HEART = "2A63", "2A37"
SILENT_NS = to_ns(3.0)


def missed(*last_s: float | None, at_s: float) -> frozenset[str]:
    """What is missed of power and heart rate, which came last at these times; open since 1 s."""
    streams = [
        Stream(one, None if last is None else to_ns(last))
        for one, last in zip((POWER, HEART), last_s, strict=True)
    ]
    return silent(streams, to_ns(1.0), to_ns(at_s), SILENT_NS)


def test_what_came_and_stopped_is_missed() -> None:
    assert missed(5.0, 7.5, at_s=7.9) == set()
    assert missed(5.0, 7.5, at_s=8.0) == {POWER}
    assert missed(5.0, 7.5, at_s=10.5) == {POWER, HEART}


def test_what_never_came_is_missed_only_where_nothing_else_comes() -> None:
    assert missed(5.0, None, at_s=7.9) == set()
    assert missed(5.0, None, at_s=8.0) == {POWER, HEART}
    assert missed(None, None, at_s=3.9) == set()
    assert missed(None, None, at_s=4.0) == {POWER, HEART}


def test_the_next_look_is_when_the_oldest_value_is_too_old() -> None:
    streams = (Stream(POWER, to_ns(5.0)), Stream(HEART, to_ns(6.0)))
    assert next_check_ns(streams, 0, to_ns(6.0), SILENT_NS) == to_ns(8.0)
    assert next_check_ns((Stream(POWER),), to_ns(1.0), to_ns(2.0), SILENT_NS) == to_ns(4.0)
    assert next_check_ns(streams, 0, to_ns(9.0), SILENT_NS) == to_ns(12.0)


def test_a_value_is_kept_with_the_time_of_its_last_change() -> None:
    streams = with_value((Stream(POWER), Stream(HEART)), 5, POWER, b"a")
    streams = with_value(streams, 6, POWER, b"a")
    assert streams == (Stream(POWER, 6, 5, b"a"), Stream(HEART))
    assert with_value(streams, 7, POWER, b"b")[0] == Stream(POWER, 7, 7, b"b")


def test_the_same_bytes_at_once_are_a_repeat_and_later_a_value() -> None:
    stream = Stream(POWER, to_ns(5.0), 0, b"same")
    assert is_repeat(stream, to_ns(5.01), b"same")
    assert not is_repeat(stream, to_ns(5.01), b"other")
    assert not is_repeat(stream, to_ns(5.25), b"same")
    assert not is_repeat(replace(stream, last_ns=None), to_ns(5.01), b"same")
