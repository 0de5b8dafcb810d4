"""Which sensors a watch reads, and which of them gives what."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from posewatch.core.effort_sources import EffortSources
from posewatch.core.sensor_choice import SensorChoice


@dataclass(frozen=True, slots=True)
class SensorUse:
    """Sensors by name or platform id; empty = none gives it.

    power, cadence: which gives it. power_other_side: the second of a pair whose powers are added.
    recording: a file of recorded packets that is played instead of live sensors.
    """

    power: str = ""
    cadence: str = ""
    power_other_side: str = ""
    recording: Path | None = None

    @property
    def is_any(self) -> bool:
        """Whether any sensor is read."""
        return bool(self.power or self.cadence)

    @property
    def choices(self) -> tuple[SensorChoice, ...]:
        """The sensors to follow, each once."""
        words = dict.fromkeys(filter(None, (self.power, self.power_other_side, self.cadence)))
        return tuple(SensorChoice(word, word if is_platform_id(word) else "") for word in words)

    def sources(self, names: Mapping[str, str]) -> EffortSources:
        """Return which device gives what. names: platform ids by the names of their sensors.

        A name that is not among them yet stands for itself: no packet comes of it.
        """
        power, cadence, other = (
            names.get(word, word) or None
            for word in (self.power, self.cadence, self.power_other_side)
        )
        return EffortSources(power, cadence, other)


def is_platform_id(word: str) -> bool:
    """Whether a word is an address (five colons) or an identifier (four dashes), not a name."""
    return word.count(":") == 5 or (len(word) == 36 and word.count("-") == 4)
