"""What the step of the sensors shows: a list, one sensor closer, and the one action. Without Qt."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from posewatch.core.sensor_choice import SensorChoice, Service, Sighting
from posewatch.core.sensor_link import Phase
from posewatch.core.sensor_words import OBSTACLE_WORDS
from posewatch.sensors.roster import Survey
from posewatch.sensors.sensor_link import SensorStatus
from posewatch.sensors.values import SensorValues
from posewatch.ui.channel_words import NOT_KNOWN
from posewatch.ui.sensor_plan import Role, SensorPlan, gives, key, why_not_give

#: In words, so that nobody has to know the unit: at least so strong, dBm.
SIGNALS = ((-60, "strong"), (-75, "good"), (-88, "weak"))
WITHOUT_BLUETOOTH = "You can go on without sensors."
NOBODY_HEARD = (
    "No sensor was heard. Wake them (turn the cranks, wear the strap), bring them nearer, and "
    "close other programs and displays that may have them."
)


@dataclass(frozen=True, slots=True)
class SensorRow:
    """A sensor in the list."""

    choice: SensorChoice
    detail: str


@dataclass(frozen=True, slots=True)
class SensorCard:
    """The sensor that is picked. state: how its link stands. value, age: what it says now.

    facts: head and words. can: why it cannot give something, empty = it can.
    """

    choice: SensorChoice
    state: str
    value: str
    age: str
    facts: tuple[tuple[str, str], ...]
    can: tuple[tuple[Role, str], ...]
    services: frozenset[Service]


def signal_words(rssi_dbm: int | None) -> str:
    """Say how strong a sensor is heard."""
    if rssi_dbm is None:
        return "signal not known"
    word = next((word for least, word in SIGNALS if rssi_dbm >= least), "very weak")
    return f"{word} signal, {rssi_dbm} dBm"


def service_words(services: frozenset[Service]) -> str:
    """Say what a sensor offers."""
    return ", ".join(sorted(services)) or "services not known yet"


def rows(
    seen: Sequence[Sighting],
    plan: SensorPlan,
    statuses: Mapping[str, SensorStatus],
) -> tuple[SensorRow, ...]:
    """Return the list: sensors that are heard, and those that were chosen but are not.

    statuses: of the sensors that are followed, by ``key``.
    """
    found = []
    heard = set()
    for one in seen:
        choice = one.choice
        heard.add(key(choice))
        status = statuses.get(key(choice))
        services = one.services | (status.services if status is not None else frozenset())
        words = [signal_words(one.rssi_dbm), service_words(services)]
        if one.elsewhere:
            words.append("another program of this computer has it")
        found.append(SensorRow(choice, "; ".join([*_gives(plan, choice), *words])))
    for choice in plan.choices:
        if key(choice) not in heard:
            found.append(
                SensorRow(choice, "; ".join([*_gives(plan, choice), "not heard by a scan"]))
            )
    return tuple(found)


def _gives(plan: SensorPlan, choice: SensorChoice) -> list[str]:
    given = gives(plan, choice)
    return [f"gives {given}"] if given else []


def card(
    choice: SensorChoice,
    sighting: Sighting | None,
    status: SensorStatus | None,
    values: SensorValues | None,
    plan: SensorPlan,
    now_ns: int,
) -> SensorCard:
    """Return what is known of the picked sensor. status, values: None = not connected yet."""
    services = choice.services | (frozenset() if sighting is None else sighting.services)
    rssi_dbm = None if sighting is None else sighting.rssi_dbm
    state = "it is looked at as soon as the rider has agreed (step 1)"
    if status is not None:
        services |= status.services
        rssi_dbm = status.rssi_dbm if rssi_dbm is None else rssi_dbm
        state = status.text
    known = [
        ("at the scan", signal_words(rssi_dbm)),
        ("services", service_words(services)),
        ("battery", NOT_KNOWN if values is None else values.battery() or "not told"),
    ]
    if values is not None and (whose := values.power_source()):
        known.append(("power of", whose))
    age_s = math.nan if values is None else values.age_s(now_ns)
    can = tuple((role, why_not_give(plan, role, choice, services)) for role in Role)
    return SensorCard(
        choice,
        state,
        "" if values is None else ", ".join(values.words(now_ns)),
        "" if math.isnan(age_s) else f"{age_s:.1f} s ago",
        tuple(known),
        can,
        services,
    )


def scan_words(survey: Survey | None, is_scanning: bool, n_seen: int, trouble: str) -> str:
    """Say how the scan goes, or what it came to. survey: the last one that ended."""
    if trouble:
        return f"{trouble} {WITHOUT_BLUETOOTH}"
    if is_scanning:
        return f"Scanning: {_sensors(n_seen)} heard so far."
    if survey is None:
        return ""
    if survey.obstacle is not None:
        return " ".join((*OBSTACLE_WORDS[survey.obstacle], WITHOUT_BLUETOOTH))
    if survey.problem:
        return (
            f"The scan failed ({survey.problem}). Switch Bluetooth off and on again, and scan "
            f"once more. {WITHOUT_BLUETOOTH}"
        )
    return f"{_sensors(n_seen)} heard." if n_seen else NOBODY_HEARD


def _sensors(n: int) -> str:
    return "1 sensor" if n == 1 else f"{n} sensors"


def live(statuses: Mapping[str, SensorStatus]) -> dict[str, tuple[bool, str]]:
    """Return whether values come of each sensor, and what its link says of it."""
    return {
        one: (status.phase is Phase.LIVE, "" if status.phase is Phase.LIVE else status.text)
        for one, status in statuses.items()
    }


def used_words(plan: SensorPlan) -> str:
    """Say which sensor gives what."""
    told = [f"{role}: {choice.name}" for role, choice in plan.given.items()]
    if plan.cadence is None:
        told.append("cadence: from the pedalling itself")
    if plan.power is None:
        told.insert(0, "power: none")
    text = "; ".join(told)
    if plan.recording is not None:
        text += f"; played from {plan.recording.name}"
    return text


def action_words(plan: SensorPlan, problem: str) -> tuple[str, str]:
    """Return what the step's button says, and why it cannot be pressed, empty = it can.

    problem: of a number that was typed.
    """
    names = " and ".join(one.name for one in plan.choices)
    label = f"Use {names}" if names else "Go on without sensors"
    if not problem and plan.no_power:
        problem = "let a sensor give the power, or plan none"
    if not problem and plan.trainer is not None and plan.power_w is None:
        problem = "plan the power that the trainer is to hold"
    return label, problem
