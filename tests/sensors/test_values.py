"""One sensor's packets for people: values with units, their age, and whose power it is."""

from __future__ import annotations

import math

from made_sensors import CRANK, pedalled

from posewatch.core.records import NS_PER_S
from posewatch.core.sensor_records import Packet
from posewatch.sensors.values import SensorValues, values_of

ONE = "one side (left crank)"


def heard(*turns: int) -> SensorValues:
    """Take in a turn a second of a crank that is pedalled."""
    values = SensorValues("crank")
    for number in turns:
        packets = pedalled(CRANK, (10 + number) * NS_PER_S, turns=number).last
        for packet in sorted(packets.values(), key=lambda one: one.t_ns):
            values.take(packet)
    return values


def test_cadence_comes_of_two_packets_and_power_of_one() -> None:
    assert heard(1).words(11 * NS_PER_S) == ["210 W"]
    assert heard(1, 2).words(12 * NS_PER_S) == ["210 W", "60.0 rpm"]


def test_after_a_new_connection_counters_begin_anew() -> None:
    values = heard(1, 2)
    values.connected_anew()
    values.take(pedalled(CRANK, 14 * NS_PER_S, turns=9).last["2A63"])
    assert values.words(14 * NS_PER_S) == ["210 W"]


def test_an_old_value_is_a_dash_with_its_age() -> None:
    values = heard(1, 2)
    assert values.words(15 * NS_PER_S)[0] == "210 W"
    assert values.words(15 * NS_PER_S + 1) == ["- W", "- rpm"]
    assert values.age_s(16 * NS_PER_S) == 4.0
    assert math.isnan(SensorValues("crank").age_s(NS_PER_S))


def test_what_does_not_change_is_told_of_one_side() -> None:
    values = heard(1)
    assert (values.battery(), values.power_source()) == ("80 %", ONE)
    assert values.facts() == ["battery 80 %", f"power of {ONE}"]
    assert SensorValues("crank").facts() == []


def test_power_at_a_wheel_is_told_by_its_torque() -> None:
    """2A63, flags 0x0004: accumulated torque, and bit 3 clear: it is taken at the wheel."""
    values = SensorValues("hub")
    values.take(Packet(NS_PER_S, "hub", "2A63", bytes.fromhex("0400c8009f00")))
    assert values.power_source() == "both sides, at the wheel (place not told)"
    assert values.words(NS_PER_S) == ["200 W"]


def test_a_packet_that_cannot_be_read_is_counted_and_changes_nothing() -> None:
    values = heard(1)
    values.take(Packet(12 * NS_PER_S, "crank", "2A63", b"\x20"))
    assert (values.n_bad, values.words(12 * NS_PER_S)) == (1, ["210 W"])
    assert "2A63" in values.problem


def test_the_last_packet_of_each_kind_in_any_order() -> None:
    values = values_of("crank", pedalled(CRANK, 11 * NS_PER_S, turns=1).last)
    assert values.n_packets == 4
    assert values.words(11 * NS_PER_S) == ["210 W"]
