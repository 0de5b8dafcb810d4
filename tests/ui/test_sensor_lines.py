"""Sensors in short lines: how they stand, what they give, whose power it is."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest
from made_sensors import CRANK, OTHER, SPEEDO, STRAP, pedalled, status

from posewatch.core.records import NS_PER_S, SourceCondition, SourceState
from posewatch.core.sensor_choice import SensorChoice
from posewatch.core.sensor_link import Cause, Phase, begin
from posewatch.core.sensor_records import Packet
from posewatch.core.sensor_use import SensorUse
from posewatch.core.sensor_words import describe
from posewatch.demo import sensor_recording
from posewatch.runtime.engine import Said
from posewatch.studio import Chosen
from posewatch.ui import sensor_lines
from posewatch.ui.sensor_lines import RecordedSensors

BOTH = Chosen(sensors=SensorUse(CRANK.platform_id, "cadence", OTHER.platform_id))
NAMED = Chosen(sensors=SensorUse("Demo crank", "Demo crank"))


@pytest.mark.parametrize(
    ("phase", "cause", "state"),
    [
        (Phase.SEARCHING, Cause.NONE, "is searched for"),
        (Phase.CONNECTING, Cause.NONE, "is being connected"),
        (Phase.TAKEN, Cause.REFUSED, "is taken by another program or display"),
        (Phase.LOST, Cause.AT_REST, "has gone to sleep after a rest"),
        (Phase.LOST, Cause.SUDDEN, "was gone while it sent values"),
        (Phase.LOST, Cause.FADED, "is out of reach"),
        (Phase.SILENT, Cause.STOPPED, "is connected but sends nothing any more"),
        (Phase.OFF, Cause.NONE, "Bluetooth is off"),
        (Phase.LIVE, Cause.NONE, ""),
    ],
)
def test_what_keeps_values_from_coming_in_a_few_words(
    phase: Phase, cause: Cause, state: str
) -> None:
    text = describe(replace(begin(0), phase=phase, cause=cause), "Crank")
    (line,) = sensor_lines.of_live([status(CRANK, phase, text)], BOTH, 0)
    assert (line.name, line.text, line.state) == ("Crank", text, state)


def test_a_live_meter_with_its_age_and_whose_power_it_is() -> None:
    """Location 5 is the left crank (Bluetooth SIG, Sensor Location)."""
    meter = pedalled(CRANK, 10 * NS_PER_S)
    (line,) = sensor_lines.of_live([meter], BOTH, 10 * NS_PER_S + NS_PER_S // 4)
    assert (line.age_s, line.gives, line.whose) == (0.25, "power", "one side (left crank)")


def test_what_each_sensor_gives_whether_chosen_by_name_or_id() -> None:
    sensors = (CRANK, OTHER, SPEEDO, STRAP)
    lines = sensor_lines.of_live([status(one, Phase.LIVE, "") for one in sensors], BOTH, 0)
    assert [one.gives for one in lines] == ["power", "the other side's power", "cadence", ""]
    assert all(math.isnan(one.age_s) for one in lines)
    held = Chosen(sensors=SensorUse("crank", "Crank", trainer=CRANK.platform_id.lower()))
    assert sensor_lines.gives(held, "Crank", CRANK.choice) == "power and cadence and the held power"
    assert sensor_lines.gives(Chosen(), "", SensorChoice("", "")) == ""


def test_facts_alone_are_no_value() -> None:
    """What is read on connecting says nothing of whether values come."""
    meter = pedalled(CRANK, NS_PER_S)
    facts = {name: one for name, one in meter.last.items() if name != "2A63"}
    (line,) = sensor_lines.of_live([status(CRANK, Phase.LIVE, "", facts)], BOTH, 2 * NS_PER_S)
    assert math.isnan(line.age_s)


def test_recorded_sensors_stand_as_their_recording_says() -> None:
    path = sensor_recording("hoods_steady")
    assert path is not None
    recorded = RecordedSensors(path)
    (line,) = recorded.lines(NAMED, 0)
    assert (line.name, line.gives, line.state) == ("Demo crank", "power and cadence", "")
    assert math.isnan(line.age_s)
    packet = Packet(5 * NS_PER_S, "C0:DE:00:00:00:01", "2A63", bytes.fromhex("00001400"))
    gone = SourceState(
        6 * NS_PER_S, "Demo crank", SourceCondition.LOST, "Demo crank is out of reach, or flat."
    )
    recorded.hear([Said(packet, ()), Said(gone, ())])
    (line,) = recorded.lines(NAMED, 8 * NS_PER_S)
    assert (line.age_s, line.state, line.text) == (3.0, "is out of reach", gone.text)
    back = SourceState(9 * NS_PER_S, "Demo crank", SourceCondition.RUNNING, "It gives values.")
    recorded.hear([Said(back, ())])
    assert recorded.lines(NAMED, 9 * NS_PER_S)[0].state == ""


def test_recorded_sensors_that_give_nothing_are_left_out(tmp_path: Path) -> None:
    path = sensor_recording("hoods_steady")
    assert path is not None
    assert RecordedSensors(path).lines(BOTH, 0) == ()
    assert RecordedSensors(tmp_path / "none.jsonl").lines(NAMED, 0) == ()


@pytest.mark.parametrize(
    ("text", "first", "rest"),
    [
        ("Crank has gone to sleep. Turn it.", "has gone to sleep", "Turn it."),
        ("Crank is there: another has it. Close it.", "is there", "Close it."),
        ("Crank is connected; it waits.", "is connected", ""),
        ("Crank 2.0 is gone", "2.0 is gone", ""),
        ("", "", ""),
    ],
)
def test_the_first_thing_that_is_said_and_the_rest(text: str, first: str, rest: str) -> None:
    assert sensor_lines.first(text, "Crank") == first
    assert sensor_lines.rest(text) == rest
