"""Which sighting is the chosen sensor."""

from __future__ import annotations

from posewatch.core.sensor_choice import SensorChoice, Service, Sighting, by_strength, pick

POWER = frozenset({Service.POWER})
HEART = frozenset({Service.HEART_RATE})
LEFT = Sighting("Pedal", "F1:00:00:00:00:01", -60, POWER)
RIGHT = Sighting("Pedal", "F1:00:00:00:00:02", -50, POWER)
MAC_ID = "6F8B5B1E-0000-0000-0000-0000000000AB"


def test_the_platform_id_decides() -> None:
    assert pick(RIGHT.choice, [LEFT, RIGHT]) is RIGHT
    assert pick(SensorChoice("other name", RIGHT.platform_id.lower()), [LEFT, RIGHT]) is RIGHT


def test_another_of_the_same_name_is_never_taken_for_it() -> None:
    assert pick(RIGHT.choice, [LEFT]) is None


def test_a_name_alone_is_enough_if_there_is_only_one() -> None:
    assert pick(SensorChoice("pedal"), [LEFT]) is LEFT
    assert pick(SensorChoice("pedal"), [LEFT, RIGHT]) is None
    assert pick(SensorChoice("pedal"), [LEFT, RIGHT], others=[LEFT.platform_id]) is RIGHT


def test_a_choice_from_another_kind_of_computer_is_met_by_name_and_service() -> None:
    assert pick(SensorChoice("Pedal", MAC_ID, POWER), [LEFT]) is LEFT
    assert pick(SensorChoice("Pedal", MAC_ID, HEART), [LEFT]) is None


def test_a_sensor_without_a_name_is_chosen_by_its_id() -> None:
    unnamed = Sighting("", "F1:00:00:00:00:03", None, POWER)
    assert unnamed.choice.name == unnamed.platform_id
    assert pick(unnamed.choice, [LEFT, unnamed]) is unnamed
    assert pick(SensorChoice(""), [unnamed]) is None


def test_the_strongest_comes_first_and_unknown_strength_last() -> None:
    unknown = Sighting("x", "F1:00:00:00:00:00", None, POWER)
    assert by_strength([unknown, LEFT, RIGHT]) == (RIGHT, LEFT, unknown)
