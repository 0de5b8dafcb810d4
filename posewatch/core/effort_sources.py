"""Which sensor gives the power and which the cadence: chosen, never guessed.

Two sensors that each see one leg are added only where they were chosen as a pair; otherwise a
sensor that was not chosen changes nothing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from posewatch.core import effort
from posewatch.core.effort import Series
from posewatch.core.records import Effort
from posewatch.core.sensor_effort import DeviceReading


@dataclass(frozen=True, slots=True)
class EffortSources:
    """The chosen sensors, by their platform ids; None = the quantity comes from no sensor.

    power_other_side: the second of a pair whose powers are added, each of them that of one leg.

    Raises:
        ValueError: a second side without a first, or the same sensor for both.
    """

    power: str | None = None
    cadence: str | None = None
    power_other_side: str | None = None

    def __post_init__(self) -> None:
        """Refuse a pair that is none."""
        if self.power_other_side is not None and self.power in (None, self.power_other_side):
            raise ValueError("a pair of power sensors needs two different ones")


@dataclass(frozen=True, slots=True)
class SourcesState:
    """What the second of a pair gave last."""

    other_side: Series = Series()


def step(
    sources: EffortSources, state: SourcesState, reading: DeviceReading
) -> tuple[SourcesState, Effort | None]:
    """Take in one sensor's reading; return what the hold is to know of it, None = nothing.

    A pair's power comes with the first one's packets, and not at all while the second is silent.
    """
    if reading.device == sources.power_other_side:
        other_side = effort.append(state.other_side, reading.t_ns, reading.power_w)
        state = SourcesState(other_side)
    power_w = cadence_rpm = math.nan
    if reading.device == sources.power:
        power_w = reading.power_w
        if sources.power_other_side is not None:
            power_w += _last_w(state.other_side, reading.t_ns)
    if reading.device == sources.cadence:
        cadence_rpm = reading.cadence_rpm
    if math.isnan(power_w) and math.isnan(cadence_rpm):
        return state, None
    return state, Effort(reading.t_ns, power_w, cadence_rpm)


def _last_w(series: Series, t_ns: int) -> float:
    """Return a side's last power, NaN where it is too old to be added to."""
    return series.readings[-1].value if effort.is_fresh(series, t_ns) else math.nan
