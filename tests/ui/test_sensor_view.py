"""Words of the sensor step: the list, the sensor that is picked, the scan, the one action."""

from __future__ import annotations

from dataclasses import replace

import pytest
from made_sensors import CRANK, OTHER, SPEEDO, STRAP, pedalled, status

from posewatch.core.records import NS_PER_S
from posewatch.core.sensor_link import OBSTACLES, Phase
from posewatch.sensors.roster import Survey
from posewatch.sensors.values import SensorValues, values_of
from posewatch.ui import sensor_view
from posewatch.ui.sensor_plan import Role, SensorPlan, key


@pytest.mark.parametrize(
    ("rssi_dbm", "words"),
    [
        (-60, "strong signal, -60 dBm"),
        (-61, "good signal, -61 dBm"),
        (-76, "weak signal, -76 dBm"),
        (-89, "very weak signal, -89 dBm"),
        (None, "signal not known"),
    ],
)
def test_signal_strength_in_words(rssi_dbm: int | None, words: str) -> None:
    assert sensor_view.signal_words(rssi_dbm) == words


def test_the_list_has_what_is_heard_and_what_was_chosen_but_is_not() -> None:
    plan = SensorPlan(power=CRANK.choice, cadence=SPEEDO.choice)
    taken = replace(OTHER, elsewhere=True, services=frozenset())
    rows = sensor_view.rows([CRANK, taken, STRAP], plan, {})
    assert [(one.choice.name, one.detail) for one in rows] == [
        ("Crank", "gives power; strong signal, -55 dBm; power"),
        (
            "Other crank",
            "good signal, -70 dBm; services not known yet; another program of this computer has it",
        ),
        ("Strap", "signal not known; heart rate"),
        ("Cadence", "gives cadence; not heard by a scan"),
    ]


def test_services_are_those_that_were_found_once_it_is_connected() -> None:
    quiet = replace(OTHER, services=frozenset())
    found = {key(OTHER.choice): status(OTHER, Phase.LIVE, "")}
    assert sensor_view.rows([quiet], SensorPlan(), found)[0].detail.endswith("; power")


def test_the_picked_sensor_with_its_newest_values() -> None:
    stands = pedalled(CRANK, 100 * NS_PER_S)
    values = values_of("crank", stands.last)
    card = sensor_view.card(
        CRANK.choice, CRANK, stands, values, SensorPlan(), round(100.3 * NS_PER_S)
    )
    assert (card.state, card.value, card.age) == ("Crank gives values.", "210 W", "0.3 s ago")
    assert dict(card.facts) == {
        "at the scan": "strong signal, -55 dBm",
        "services": "power",
        "battery": "80 %",
        "power of": "one side (left crank)",
    }
    can = dict(card.can)
    assert (can[Role.POWER], can[Role.CADENCE]) == ("", "")
    assert can[Role.OTHER_SIDE]
    later = sensor_view.card(CRANK.choice, CRANK, stands, values, SensorPlan(), 105 * NS_PER_S)
    assert later.value.startswith("- W")
    assert later.age == "5.0 s ago"


def test_of_a_sensor_that_is_not_connected_nothing_is_claimed() -> None:
    card = sensor_view.card(STRAP.choice, STRAP, None, None, SensorPlan(), NS_PER_S)
    assert (card.value, card.age) == ("", "")
    assert dict(card.facts)["battery"] == "\N{EN DASH}"
    silent = sensor_view.card(
        STRAP.choice, STRAP, status(STRAP, Phase.SILENT, "It sleeps."), SensorValues("s"),
        SensorPlan(), NS_PER_S,
    )  # fmt: skip
    assert (silent.state, silent.value) == ("It sleeps.", "")
    assert dict(silent.facts)["battery"] == "not told"


@pytest.mark.parametrize("obstacle", OBSTACLES)
def test_without_bluetooth_it_is_said_why_and_that_one_may_go_on(obstacle: Phase) -> None:
    words = sensor_view.scan_words(Survey(obstacle=obstacle, problem="E7"), False, 0, "")
    assert "luetooth" in words
    assert words.endswith("You can go on without sensors.")


def test_how_the_scan_goes() -> None:
    words = sensor_view.scan_words
    assert words(None, False, 0, "") == ""
    assert words(None, True, 1, "") == "Scanning: 1 sensor heard so far."
    assert words(Survey((CRANK, OTHER)), False, 2, "") == "2 sensors heard."
    assert words(Survey(), False, 0, "").startswith("No sensor was heard. Wake them")
    assert "E7" in words(Survey(problem="E7"), False, 0, "")
    assert words(None, True, 0, "It is broken.").startswith("It is broken. You can go on")


def test_what_is_used_is_said() -> None:
    assert sensor_view.used_words(SensorPlan()) == (
        "power: none; cadence: from the pedalling itself"
    )
    plan = SensorPlan(CRANK.choice, OTHER.choice, SPEEDO.choice)
    assert sensor_view.used_words(plan) == (
        "power: Crank; the other side's power: Other crank; cadence: Cadence"
    )


def test_the_one_action() -> None:
    words = sensor_view.action_words
    assert words(SensorPlan(), "") == ("Go on without sensors", "")
    assert words(SensorPlan(CRANK.choice, cadence=CRANK.choice), "") == ("Use Crank", "")
    assert words(SensorPlan(CRANK.choice, cadence=SPEEDO.choice), "")[0] == "Use Crank and Cadence"
    assert words(SensorPlan(power_w=180.0), "")[1].startswith("let a sensor give the power")
    assert words(SensorPlan(cadence_rpm=90.0), "")[1] == ""
    assert words(SensorPlan(), "no number") == ("Go on without sensors", "no number")


def test_only_a_live_sensor_counts_as_live() -> None:
    found = {
        "a": pedalled(CRANK, NS_PER_S),
        "b": status(OTHER, Phase.SILENT, "Turn the cranks."),
    }
    assert sensor_view.live(found) == {"a": (True, ""), "b": (False, "Turn the cranks.")}
