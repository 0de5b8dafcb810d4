"""Where a sensor sits and whose power it tells, in words for people."""

from __future__ import annotations

from posewatch.core.sensor_records import CyclingPower, Location, PowerFeature

#: By the numbers of 2A5D (Bluetooth SIG, GATT Specification Supplement).
PLACES = (
    "other place",
    "top of the shoe",
    "in the shoe",
    "hip",
    "front wheel",
    "left crank",
    "right crank",
    "left pedal",
    "right pedal",
    "front hub",
    "rear dropout",
    "chainstay",
    "rear wheel",
    "rear hub",
    "chest",
    "spider",
    "chain ring",
)
_AT_ONE_LEG = {
    "top of the shoe",
    "in the shoe",
    "left crank",
    "right crank",
    "left pedal",
    "right pedal",
}
_AT_A_WHEEL = {"front wheel", "front hub", "rear wheel", "rear hub"}
_WHERE_BOTH_LEGS_MEET = {"spider", "chain ring"}

_BALANCE = 0  # bit of 2A65


def place_name(location: Location | None) -> str:
    """Give a sensor's place; None = it does not say."""
    if location is None:
        return "place not told"
    if location.number < len(PLACES):
        return PLACES[location.number]
    return f"place {location.number}"


def describes_one_side(feature: PowerFeature | None, location: Location | None) -> bool:
    """Whether the power is measured at one leg only.

    Such a sensor sends that leg's share, to be added to another sensor's
    (``feature.distributed``), or doubles it. One that sits at a leg and tells the balance hears
    the other leg too. None = not read.
    """
    if feature is not None and feature.distributed:
        return True
    if feature is not None and feature.has(_BALANCE):
        return False
    return place_name(location) in _AT_ONE_LEG


def is_wheel_based(power: CyclingPower | None, location: Location | None) -> bool:
    """Whether the power is taken at a wheel, behind the drive train.

    Torque says it itself; without, the place tells. None = nothing heard, not read.
    """
    if power is not None and power.torque_1_32_nm is not None:
        return not power.torque_at_crank
    return place_name(location) in _AT_A_WHEEL


def power_source(
    feature: PowerFeature | None, location: Location | None, power: CyclingPower | None
) -> str:
    """Say whose power it is and where it is taken, as "one side (left crank)"."""
    place = place_name(location)
    if describes_one_side(feature, location):
        whose = "one side"
    elif is_wheel_based(power, location):
        whose = "both sides, at the wheel"
    elif place in _WHERE_BOTH_LEGS_MEET or (feature is not None and feature.has(_BALANCE)):
        whose = "both sides"
    else:
        whose = "sides not told"
    return f"{whose} ({place})"
