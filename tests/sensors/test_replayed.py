"""Recorded packets at the time of whoever asks."""

from __future__ import annotations

from posewatch.core.records import SourceCondition, SourceState
from posewatch.core.sensor_records import Packet
from posewatch.core.sensor_source import SensorSource
from posewatch.sensors.replayed import ReplayedSensors

EVENTS = [
    Packet(0, "F1", "2A19", b"\x57"),
    SourceState(5, "Crank", SourceCondition.RUNNING, "Crank gives values."),
    Packet(5, "F1", "2A63", b"\0"),
    Packet(90, "F1", "2A63", b"\1"),
]


def test_each_event_comes_once_at_its_time() -> None:
    source: SensorSource = ReplayedSensors(EVENTS)
    assert source.begin(0) == EVENTS[:1]
    assert source.taken(4) == []
    assert source.taken(5) == EVENTS[1:3]
    assert source.taken(5) == []
    assert source.taken(1000) == EVENTS[3:]


def test_the_end_is_known_and_gives_all_at_once() -> None:
    source = ReplayedSensors(EVENTS)
    assert source.end_ns == 90
    assert source.taken(source.end_ns) == EVENTS
    assert ReplayedSensors([]).end_ns == 0


def test_a_closed_one_gives_nothing_more() -> None:
    source = ReplayedSensors(EVENTS)
    source.close()
    source.close()
    assert source.taken(1000) == []
