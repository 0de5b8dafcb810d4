"""Cadence and power as the rider reads them: whole numbers, a dash where not known. Without Qt."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from posewatch.core.records import NS_PER_S, Channel, Effort
from posewatch.core.standing import Standing
from posewatch.core.watch_plan import WatchPlan
from posewatch.runtime.engine import Said

#: Power is the mean of what came in so long; without a reading for so long it is not known.
POWER_OVER_NS = 3 * NS_PER_S
#: The number changes at most so often.
POWER_KEPT_NS = 1 * NS_PER_S
DASH = "\N{EN DASH}"


@dataclass(frozen=True, slots=True)
class Number:
    """One number. unit: with what is planned. off: it is what the correction is about."""

    text: str
    unit: str
    off: bool


NO_NUMBER = Number("", "", False)


@dataclass(frozen=True, slots=True)
class PowerShown:
    """Readings of the last seconds as (when, W), and the number shown since some moment.

    ever: a power meter has spoken in this watch. watts: NaN = not known.
    """

    readings: tuple[tuple[int, float], ...] = ()
    ever: bool = False
    watts: float = math.nan
    since_ns: int = 0


NO_POWER = PowerShown()


def take_power(before: PowerShown, said: Iterable[Said], now_ns: int) -> PowerShown:
    """Take in what sensors said since the last scene."""
    new = tuple(
        (now_ns, one.item.power_w)
        for one in said
        if isinstance(one.item, Effort) and not math.isnan(one.item.power_w)
    )
    readings = tuple(r for r in before.readings if now_ns - r[0] < POWER_OVER_NS) + new
    ever = before.ever or bool(new)
    watts = sum(w for _, w in readings) / len(readings) if readings else math.nan
    known = not math.isnan(before.watts)
    if known and readings and now_ns - before.since_ns < POWER_KEPT_NS:
        return PowerShown(readings, ever, before.watts, before.since_ns)
    return PowerShown(readings, ever, watts, now_ns)


def numbers(
    stands: Standing, power: PowerShown, plan: WatchPlan, off: Channel | None
) -> tuple[Number, ...]:
    """Return the numbers: cadence always, power where there is a meter or it is planned.

    off: what the correction is about, None = there is none.
    """
    rpm, watts = of_plan(plan.cadence_rpm, "rpm"), of_plan(plan.power_w, "W")
    cadence = Number(whole(stands.cadence_rpm), rpm, off is Channel.CADENCE)
    if not power.ever and plan.power_w is None:
        return (cadence,)
    return cadence, Number(whole(power.watts), watts, off is Channel.POWER)


def of_plan(planned: float | None, unit: str) -> str:
    """Return what stands under a number: its unit, with what is planned as "of 90 rpm"."""
    return unit if planned is None else f"of {planned:.0f} {unit}"


def whole(value: float) -> str:
    """Return a number without its decimals, or a dash."""
    return DASH if math.isnan(value) else f"{value:.0f}"
