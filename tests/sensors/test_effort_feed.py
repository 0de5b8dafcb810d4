"""From packets to what the hold is told; everything is given on, to be logged."""

from __future__ import annotations

import math
from collections.abc import Iterable

import pytest

from posewatch.core.records import NS_PER_S, Effort, SourceCondition, SourceState
from posewatch.core.sensor_records import Packet
from posewatch.core.sensor_source import SensorEvent
from posewatch.core.sensor_use import SensorUse
from posewatch.sensors.effort_feed import EffortFeed
from posewatch.sensors.replayed import ReplayedSensors

CRANK, STRAP = "C0:00:00:00:00:01", "C0:00:00:00:00:02"
NAMES = {"Crank": CRANK, "Strap": STRAP}


def power(t_s: float, watts: int, turns: int, event_s: float, device: str = CRANK) -> Packet:
    """A 2A63 packet with crank revolutions; layout as published by the Bluetooth SIG."""
    ticks = round(event_s * 1024) % 65536
    data = (0x20).to_bytes(2, "little") + watts.to_bytes(2, "little", signed=True)
    data += turns.to_bytes(2, "little") + ticks.to_bytes(2, "little")
    return Packet(round(t_s * NS_PER_S), device, "2A63", data)


def feed(events: Iterable[SensorEvent], use: SensorUse) -> EffortFeed:
    return EffortFeed(ReplayedSensors(events), use, lambda: NAMES)


def test_power_and_cadence_follow_the_packets_they_come_of() -> None:
    packets = [power(0.0, 200, 10, 0.0), power(1.0, 210, 11, 0.75), power(2.0, 190, 12, 1.5)]
    one = feed(packets, SensorUse("Crank", "Crank"))
    out = [*one.begin(0), *one.taken(2 * NS_PER_S)]
    assert [i for i in out if isinstance(i, Packet)] == packets
    efforts = [i for i in out if isinstance(i, Effort)]
    assert [e.power_w for e in efforts] == [200.0, 210.0, 190.0]
    assert math.isnan(efforts[0].cadence_rpm)
    # A turn in 0.75 s.
    assert [e.cadence_rpm for e in efforts[1:]] == pytest.approx([80.0, 80.0], abs=0.1)


def test_a_sensor_that_is_not_chosen_is_logged_and_gives_nothing() -> None:
    one = feed([power(0.0, 300, 1, 0.0, STRAP)], SensorUse("Crank"))
    out = one.begin(NS_PER_S)
    assert len(out) == 1
    assert isinstance(out[0], Packet)


def test_only_what_was_chosen_of_a_sensor_counts() -> None:
    packets = [power(0.0, 200, 10, 0.0), power(1.0, 200, 11, 0.75)]
    out = feed(packets, SensorUse(power=CRANK)).begin(2 * NS_PER_S)
    efforts = [i for i in out if isinstance(i, Effort)]
    assert [e.power_w for e in efforts] == [200.0, 200.0]
    assert all(math.isnan(e.cadence_rpm) for e in efforts)


def test_a_packet_that_cannot_be_read_is_logged_and_counted() -> None:
    broken = Packet(0, CRANK, "2A63", b"\x20\x00\x0b")
    one = feed([broken], SensorUse("Crank"))
    assert one.begin(0) == [broken]
    assert one.n_unreadable == 1


def test_counters_are_not_paired_over_a_long_silence() -> None:
    """A meter that slept may count from anywhere: a pair over the gap would be a false cadence."""
    packets = [
        power(0.0, 200, 10, 0.0),
        power(0.75, 200, 11, 0.75),
        power(10.0, 200, 12, 1.5),
        power(10.75, 200, 13, 2.25),
    ]
    out = feed(packets, SensorUse("Crank", "Crank")).begin(11 * NS_PER_S)
    rpm = [i.cadence_rpm for i in out if isinstance(i, Effort)]
    assert math.isnan(rpm[0])
    assert rpm[1] == pytest.approx(80.0, abs=0.1)
    assert math.isnan(rpm[2])
    assert rpm[3] == pytest.approx(80.0, abs=0.1)


def test_a_split_fitness_record_is_put_together() -> None:
    """More data follows where bit 0 is set (Fitness Machine Service): speed comes last."""
    first = Packet(0, CRANK, "2AD2", bytes.fromhex("4100c800"))
    last = Packet(1, CRANK, "2AD2", bytes.fromhex("0000b80b"))
    out = feed([first, last], SensorUse("Crank")).begin(1)
    efforts = [i for i in out if isinstance(i, Effort)]
    assert [e.power_w for e in efforts] == [200.0]


def test_conditions_are_given_on() -> None:
    lost = SourceState(5, "Crank", SourceCondition.LOST, "silent")
    assert feed([lost], SensorUse("Crank")).begin(5) == [lost]
