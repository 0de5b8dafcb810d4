"""Which sensor gives what in a trial, and what is planned of power and cadence. Without Qt."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from pathlib import Path

from posewatch.core.needs import SensorFact
from posewatch.core.sensor_choice import SensorChoice, Service
from posewatch.core.sensor_effort import LARGEST_POWER_W
from posewatch.core.sensor_use import SensorUse
from posewatch.core.strokes import SLOWEST_REVOLUTION_NS
from posewatch.core.watch_plan import WatchPlan
from posewatch.store.remembered import Remembered, RememberedSensor

#: What can be planned. Slower revolutions are never judged; nobody holds a position faster.
POWER_RANGE_W = (20.0, LARGEST_POWER_W)
CADENCE_RANGE_RPM = (60e9 / SLOWEST_REVOLUTION_NS, 200.0)


class Role(StrEnum):
    """What a sensor can give."""

    POWER = "power"
    OTHER_SIDE = "the other side's power"
    CADENCE = "cadence"
    HOLD = "the held power"


#: Which services can give it. Sides are added of power sensors only.
SERVICES = {
    Role.POWER: frozenset({Service.POWER, Service.FITNESS_MACHINE}),
    Role.OTHER_SIDE: frozenset({Service.POWER}),
    Role.CADENCE: frozenset({Service.POWER, Service.SPEED_AND_CADENCE, Service.FITNESS_MACHINE}),
    Role.HOLD: frozenset({Service.FITNESS_MACHINE}),
}


@dataclass(frozen=True, slots=True)
class SensorPlan:
    """What was chosen; None = no sensor gives it, or it is not held.

    trainer: that holds the planned power. recording: a file of recorded packets that is played
    instead of live sensors.
    """

    power: SensorChoice | None = None
    other_side: SensorChoice | None = None
    cadence: SensorChoice | None = None
    power_w: float | None = None
    cadence_rpm: float | None = None
    recording: Path | None = None
    trainer: SensorChoice | None = None

    @property
    def given(self) -> dict[Role, SensorChoice]:
        """Which sensor gives what."""
        all_roles = (
            (Role.POWER, self.power),
            (Role.OTHER_SIDE, self.other_side),
            (Role.CADENCE, self.cadence),
            (Role.HOLD, self.trainer),
        )
        return {role: choice for role, choice in all_roles if choice is not None}

    @property
    def choices(self) -> tuple[SensorChoice, ...]:
        """The sensors, each once."""
        return tuple({key(one): one for one in self.given.values()}.values())

    @property
    def no_power(self) -> bool:
        """Whether power is planned that no sensor gives."""
        return self.power_w is not None and self.power is None

    @property
    def held_by(self) -> SensorChoice | None:
        """The trainer that can hold what is planned, None = none."""
        return None if self.power_w is None or self.recording is not None else self.trainer

    @property
    def use(self) -> SensorUse:
        """What the watch is told."""
        power, cadence, other, trainer = (
            "" if one is None else one.platform_id or one.name
            for one in (self.power, self.cadence, self.other_side, self.held_by)
        )
        names = tuple(
            (one.platform_id, one.name)
            for one in self.choices
            if one.platform_id not in ("", one.name)
        )
        return SensorUse(power, cadence, other, self.recording, trainer, names)

    def roles_of(self, choice: SensorChoice) -> tuple[Role, ...]:
        """Return what a sensor gives."""
        return tuple(role for role, one in self.given.items() if key(one) == key(choice))

    def watch_plan(self, before: WatchPlan) -> WatchPlan:
        """Return a trial's plan with what is planned here."""
        return replace(
            before,
            power_w=self.power_w,
            cadence_rpm=self.cadence_rpm,
            trainer_holds_power=self.held_by is not None,
        )

    def remembered(self) -> dict[str, object]:
        """Return what is to be kept for the next time, by the names of ``Remembered``.

        That a trainer holds the power is decided each time anew.
        """
        return {
            "power_sensor": _kept(self.power),
            "power_other_side": _kept(self.other_side),
            "cadence_sensor": _kept(self.cadence),
            "power_w": self.power_w,
            "cadence_rpm": self.cadence_rpm,
        }


def key(choice: SensorChoice) -> str:
    """Return what tells a sensor from every other."""
    return (choice.platform_id or choice.name).casefold()


def of_chosen(use: SensorUse, plan: WatchPlan) -> SensorPlan:
    """Return what a command has chosen."""
    power, other, cadence, trainer = (
        use.choice(word) if word else None
        for word in (use.power, use.power_other_side, use.cadence, use.trainer)
    )
    return SensorPlan(power, other, cadence, plan.power_w, plan.cadence_rpm, use.recording, trainer)


def of_last_time(last: Remembered) -> SensorPlan:
    """Return what was chosen last time."""
    power, other, cadence = (
        None if one is None else SensorChoice(one.name, one.platform_id)
        for one in (last.power_sensor, last.power_other_side, last.cadence_sensor)
    )
    return SensorPlan(power, other, cadence, last.power_w, last.cadence_rpm)


def why_not_give(
    plan: SensorPlan, role: Role, choice: SensorChoice, services: frozenset[Service]
) -> str:
    """Return why a sensor cannot give something, empty = it can."""
    if not services & SERVICES[role]:
        return f"{choice.name} offers no {' or '.join(sorted(SERVICES[role]))}"
    if role is Role.OTHER_SIDE and (plan.power is None or key(plan.power) == key(choice)):
        return "first let another sensor give the power"
    return ""


def give(plan: SensorPlan, role: Role, choice: SensorChoice) -> SensorPlan:
    """Return the plan in which a sensor gives something, in place of the one before."""
    if role is Role.CADENCE:
        return replace(plan, cadence=choice)
    if role is Role.HOLD:
        return replace(plan, trainer=choice)
    if role is Role.OTHER_SIDE:
        return replace(plan, other_side=choice)
    same = plan.other_side is not None and key(plan.other_side) == key(choice)
    return replace(plan, power=choice, other_side=None if same else plan.other_side)


def give_all(plan: SensorPlan, choice: SensorChoice, services: frozenset[Service]) -> SensorPlan:
    """Return the plan in which a sensor gives what it can and no other sensor gives yet."""
    for role in (Role.POWER, Role.CADENCE):
        if role not in plan.given and not why_not_give(plan, role, choice, services):
            plan = give(plan, role, choice)
    return plan


def forget(plan: SensorPlan, choice: SensorChoice) -> SensorPlan:
    """Return the plan without a sensor; of a pair the other one stays."""
    power, other, cadence, trainer = (
        None if one is None or key(one) == key(choice) else one
        for one in (plan.power, plan.other_side, plan.cadence, plan.trainer)
    )
    if power is None:
        power, other = other, None
    return replace(plan, power=power, other_side=other, cadence=cadence, trainer=trainer)


def planned(text: str, what: str, unit: str, limits: tuple[float, float]) -> float | None:
    """Return a planned number that was typed; None = nothing was, it is not held.

    Raises:
        ValueError: it is no such number; says so for people.
    """
    text = text.strip().removesuffix(unit).strip().replace(",", ".")
    if not text:
        return None
    told = f"the {what} is a number from {limits[0]:.0f} to {limits[1]:.0f} {unit}, or empty"
    try:
        value = float(text)
    except ValueError:
        raise ValueError(told) from None
    if not limits[0] <= value <= limits[1]:
        raise ValueError(told)
    return value


def facts(plan: SensorPlan, live: dict[str, tuple[bool, str]]) -> tuple[SensorFact, ...]:
    """Return what readiness is told. live: by key, whether values come, and what the link says."""
    if plan.recording is not None:
        return tuple(
            SensorFact(f"{one.name} ({plan.recording.name})", gives(plan, one), True)
            for one in plan.choices
        )
    found = []
    for one in plan.choices:
        is_live, advice = live.get(key(one), (None, ""))
        found.append(SensorFact(one.name, gives(plan, one), is_live, advice))
    return tuple(found)


def gives(plan: SensorPlan, choice: SensorChoice) -> str:
    """Say what a sensor gives in a trial, empty = nothing."""
    return " and ".join(plan.roles_of(choice))


def _kept(choice: SensorChoice | None) -> RememberedSensor | None:
    if choice is None:
        return None
    return RememberedSensor(name=choice.name, platform_id=choice.platform_id)
