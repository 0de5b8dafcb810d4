"""Whose power it is, and where it is taken."""

from __future__ import annotations

import pytest

from posewatch.core.sensor_records import CyclingPower, Location, PowerFeature
from posewatch.sensors.labels import (
    describes_one_side,
    is_wheel_based,
    place_name,
    power_source,
)

PLAIN = PowerFeature(1 << 3)
TELLS_BALANCE = PowerFeature(1 << 0)
TO_BE_ADDED = PowerFeature(2 << 20)
LEFT_CRANK, RIGHT_PEDAL, REAR_HUB, SPIDER = (Location(number) for number in (5, 8, 13, 15))


@pytest.mark.parametrize(
    ("location", "name"),
    [
        (None, "place not told"),
        (Location(0), "other place"),
        (REAR_HUB, "rear hub"),
        (Location(16), "chain ring"),
        (Location(17), "place 17"),
        (Location(255), "place 255"),
    ],
)
def test_places_have_names(location: Location | None, name: str) -> None:
    assert place_name(location) == name


@pytest.mark.parametrize(
    ("feature", "location", "one_side"),
    [
        (PLAIN, LEFT_CRANK, True),
        (PLAIN, RIGHT_PEDAL, True),
        (PLAIN, SPIDER, False),
        (PLAIN, None, False),
        (None, LEFT_CRANK, True),
        (None, None, False),
        (TELLS_BALANCE, LEFT_CRANK, False),
        (TO_BE_ADDED, LEFT_CRANK, True),
        (TO_BE_ADDED, SPIDER, True),
        (TO_BE_ADDED, None, True),
    ],
)
def test_one_side(feature: PowerFeature | None, location: Location | None, one_side: bool) -> None:
    assert describes_one_side(feature, location) is one_side


@pytest.mark.parametrize(
    ("power", "location", "at_wheel"),
    [
        (CyclingPower(100, torque_1_32_nm=5), None, True),
        (CyclingPower(100, torque_1_32_nm=5), SPIDER, True),
        (CyclingPower(100, torque_1_32_nm=5, torque_at_crank=True), REAR_HUB, False),
        (CyclingPower(100), REAR_HUB, True),
        (CyclingPower(100), SPIDER, False),
        (None, REAR_HUB, True),
        (None, None, False),
    ],
)
def test_power_at_the_wheel(
    power: CyclingPower | None, location: Location | None, at_wheel: bool
) -> None:
    assert is_wheel_based(power, location) is at_wheel


@pytest.mark.parametrize(
    ("feature", "location", "words"),
    [
        (PLAIN, LEFT_CRANK, "one side (left crank)"),
        (TELLS_BALANCE, RIGHT_PEDAL, "both sides (right pedal)"),
        (PLAIN, SPIDER, "both sides (spider)"),
        (PLAIN, REAR_HUB, "both sides, at the wheel (rear hub)"),
        (PLAIN, None, "sides not told (place not told)"),
    ],
)
def test_the_source_of_power_in_words(
    feature: PowerFeature, location: Location | None, words: str
) -> None:
    assert power_source(feature, location, CyclingPower(100)) == words
