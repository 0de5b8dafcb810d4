"""Which Bluetooth sensor is meant: what a scan saw, what was chosen, and how they are matched."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from enum import StrEnum

from posewatch.core.sensor_records import Characteristic


class Service(StrEnum):
    """What a sensor offers, in words for people."""

    POWER = "power"
    SPEED_AND_CADENCE = "speed and cadence"
    FITNESS_MACHINE = "fitness machine"
    HEART_RATE = "heart rate"


#: 16-bit numbers of the services (Bluetooth SIG, Assigned Numbers).
NUMBERS = {
    Service.POWER: "1818",
    Service.SPEED_AND_CADENCE: "1816",
    Service.FITNESS_MACHINE: "1826",
    Service.HEART_RATE: "180D",
}

#: Which measurements come by themselves, and by which service.
MEASUREMENTS = {
    Characteristic.CYCLING_POWER_MEASUREMENT: Service.POWER,
    Characteristic.CSC_MEASUREMENT: Service.SPEED_AND_CADENCE,
    Characteristic.INDOOR_BIKE_DATA: Service.FITNESS_MACHINE,
    Characteristic.HEART_RATE_MEASUREMENT: Service.HEART_RATE,
}


@dataclass(frozen=True, slots=True)
class SensorChoice:
    """A sensor to be used, as it is remembered.

    platform_id: the address, or on macOS an identifier that only this computer knows; empty = by
    its name alone.
    """

    name: str
    platform_id: str = ""
    services: frozenset[Service] = frozenset()


@dataclass(frozen=True, slots=True)
class Sighting:
    """A sensor that a scan saw.

    name: empty = it says none. rssi_dbm: signal strength, None = not known. services: those it
    announces; there may be more. elsewhere: this computer holds a link to it that this program did
    not open.
    """

    name: str
    platform_id: str
    rssi_dbm: int | None
    services: frozenset[Service]
    elsewhere: bool = False

    @property
    def choice(self) -> SensorChoice:
        """The choice of this sensor."""
        return SensorChoice(self.name or self.platform_id, self.platform_id, self.services)


def is_it(choice: SensorChoice, seen: Sighting) -> bool:
    """Whether a sighting is the chosen sensor beyond doubt: by its platform id."""
    return choice.platform_id.casefold() == seen.platform_id.casefold()


def pick(
    choice: SensorChoice, seen: Iterable[Sighting], others: Collection[str] = ()
) -> Sighting | None:
    """Return the chosen sensor among what was seen, None = it is not there, or not told apart.

    The platform id decides. A choice without one, or with one of another kind of computer (an
    address, where this computer gives identifiers), is met by the only sensor of that name with a
    service of the choice: two pedals of one name, or somebody else's strap, are never mixed up.

    Args:
        others: platform ids of sensors that were chosen besides, which are never taken by name.
    """
    seen = tuple(seen)
    for one in seen:
        if is_it(choice, one):
            return one
    named = [
        one
        for one in seen
        if choice.name
        and not _of_this_computer(choice, one)
        and one.name.casefold() == choice.name.casefold()
        and one.platform_id not in others
        and (not choice.services or choice.services & one.services)
    ]
    return named[0] if len(named) == 1 else None


def _of_this_computer(choice: SensorChoice, seen: Sighting) -> bool:
    """Whether both platform ids are of one kind; addresses have colons, identifiers none."""
    return choice.platform_id != "" and (":" in choice.platform_id) == (":" in seen.platform_id)


def by_strength(seen: Iterable[Sighting]) -> tuple[Sighting, ...]:
    """Return sightings for a list: the strongest first, those of unknown strength last."""

    def place(one: Sighting) -> tuple[float, str]:
        return (math.inf if one.rssi_dbm is None else -one.rssi_dbm, one.platform_id)

    return tuple(sorted(seen, key=place))
