"""From packets to what the hold is told; everything is given on, to be logged."""

from __future__ import annotations

import logging
import math
import struct
from collections.abc import Iterable

import pytest

from posewatch.core.records import NS_PER_S, DrivenTurn, Effort, SourceCondition, SourceState
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


def test_a_packet_that_cannot_be_read_is_logged_and_counted_by_its_name(
    caplog: pytest.LogCaptureFixture,
) -> None:
    broken = Packet(0, CRANK, "2A63", b"\x20\x00\x0b")
    one = feed([broken], SensorUse(CRANK))
    with caplog.at_level(logging.WARNING):
        assert one.begin(0) == [broken]
    assert one.n_unreadable == 1
    assert "Crank: " in caplog.text
    assert CRANK not in caplog.text


def test_a_name_that_only_the_choice_knows_is_used_too(caplog: pytest.LogCaptureFixture) -> None:
    pod = "C0:00:00:00:00:09"
    broken = Packet(0, pod, "2A63", b"\x20")
    with caplog.at_level(logging.WARNING):
        feed([broken], SensorUse(pod, names=((pod, "Pod"),))).begin(0)
    assert "Pod: " in caplog.text


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


def stands(t_s: float, condition: SourceCondition) -> SourceState:
    return SourceState(round(t_s * NS_PER_S), "Crank", condition, "")


def test_counters_are_not_paired_over_a_short_loss() -> None:
    """A meter that restarts within three seconds counts from anywhere as well."""
    lost, running = SourceCondition.LOST, SourceCondition.RUNNING
    events = [
        power(0.0, 200, 10, 0.0),
        power(0.75, 200, 11, 0.75),
        stands(1.2, lost),
        stands(1.5, running),
        power(1.5, 200, 12, 1.5),
        power(2.25, 200, 13, 2.25),
    ]
    for given, known in ((events, [False, True, False, True]), (events[:2] + events[4:], None)):
        out = feed(given, SensorUse("Crank", "Crank")).begin(3 * NS_PER_S)
        rpm = [i.cadence_rpm for i in out if isinstance(i, Effort)]
        expected = known or [False, True, True, True]
        assert [not math.isnan(one) for one in rpm] == expected


def test_half_a_record_before_a_loss_is_no_part_of_the_one_after_it() -> None:
    """Of a split record (2AD2) the first part says 100 W, the last of another one its speed."""
    first = Packet(0, CRANK, "2AD2", bytes.fromhex("41006400"))
    last = Packet(2, CRANK, "2AD2", bytes.fromhex("0000b80b"))
    running = SourceState(1, "Crank", SourceCondition.RUNNING, "")
    for given, n_powers in (([first, last], 1), ([first, running, last], 0)):
        out = feed(given, SensorUse("Crank")).begin(2)
        assert sum(isinstance(one, Effort) for one in out) == n_powers


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


# --- torques -------------------------------------------------------------------------------------

SECTORS = (-4, 2, 12, 28, 34, 26, 12, 2, -6, -8, -8, -6)
LEFT_CRANK, SPIDER = b"\x05", b"\x0f"


def turned(n_turns: int, location: bytes, device: str = CRANK) -> list[Packet]:
    """Revolutions of that torque (2A64, 1/32 N m), and where it is taken (2A5D)."""
    packets = [Packet(0, device, "2A5D", location)]
    for n in range(n_turns):
        for part, torques in enumerate((SECTORS[:6], SECTORS[6:])):
            data = struct.pack("<BHH6h", 0x09, n, n * 700, *(32 * one for one in torques))
            packets.append(Packet(n * NS_PER_S + part, device, "2A64", data))
    return packets


@pytest.mark.parametrize(("location", "per_leg"), [(LEFT_CRANK, True), (SPIDER, False)])
def test_torque_vectors_tell_how_evenly_a_turn_was_driven(location: bytes, per_leg: bool) -> None:
    """Project arithmetic: these twelve sectors are 20.5882 % smooth and 72.4138 % effective."""
    packets = turned(4, location)
    out = feed(packets, SensorUse("Crank")).begin(5 * NS_PER_S)
    driven = [one for one in out if isinstance(one, DrivenTurn)]
    assert [one.t_ns // NS_PER_S for one in driven] == [2, 3]
    assert {one.per_leg for one in driven} == {per_leg}
    for one in driven:
        assert one.pedal_smoothness_pct == pytest.approx(20.5882, abs=1e-4)
        assert one.torque_effectiveness_pct == pytest.approx(72.4138, abs=1e-4)
    # All that came is logged, in order.
    assert [one for one in out if isinstance(one, Packet)] == packets


def test_torques_of_a_sensor_that_does_not_give_the_power_tell_nothing() -> None:
    out = feed(turned(4, LEFT_CRANK, STRAP), SensorUse("Crank")).begin(5 * NS_PER_S)
    assert not [one for one in out if isinstance(one, DrivenTurn)]


def test_a_turn_with_a_loss_in_it_is_not_whole() -> None:
    packets = turned(6, LEFT_CRANK)
    running = SourceState(3 * NS_PER_S, "Crank", SourceCondition.RUNNING, "")
    events = [*packets[:7], running, *packets[7:]]
    out = feed(events, SensorUse("Crank")).begin(6 * NS_PER_S)
    driven = [one.t_ns // NS_PER_S for one in out if isinstance(one, DrivenTurn)]
    assert driven == [2, 5]
