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
    recording: a file of recorded packets that is played instead of live sensors. trainer: that is
    to hold the planned power. names: (platform id, name) of those whose name is known, for people.
    """

    power: str = ""
    cadence: str = ""
    power_other_side: str = ""
    recording: Path | None = None
    trainer: str = ""
    names: tuple[tuple[str, str], ...] = ()

    @property
    def is_any(self) -> bool:
        """Whether any sensor is read."""
        return bool(self.power or self.cadence or self.trainer)

    @property
    def choices(self) -> tuple[SensorChoice, ...]:
        """The sensors to follow, each once."""
        all_words = (self.power, self.power_other_side, self.cadence, self.trainer)
        words = dict.fromkeys(filter(None, all_words))
        return tuple(self.choice(word) for word in words)

    def choice(self, word: str) -> SensorChoice:
        """Return the sensor that a name or platform id stands for."""
        return SensorChoice(self.called(word), word if is_platform_id(word) else "")

    def called(self, word: str) -> str:
        """Return a sensor's name, its platform id where that is not known."""
        return next((name for one, name in self.names if one.casefold() == word.casefold()), word)

    def sources(self, names: Mapping[str, str]) -> EffortSources:
        """Return which device gives what. names: platform ids by the names of their sensors.

        A name that is not among them yet stands for itself: no packet comes of it.
        """
        power, cadence, other = (
            names.get(word, word) or None
            for word in (self.power, self.cadence, self.power_other_side)
        )
        return EffortSources(power, cadence, other)

    def words(self) -> tuple[str, ...]:
        """Say what each sensor gives, as "power from Crank (F1:00:00:00:00:01)"."""
        given = (
            ("power from {}", self.power),
            ("the other side's power from {}", self.power_other_side),
            ("cadence from {}", self.cadence),
            ("power held by {}", self.trainer),
        )
        return tuple(text.format(self._in_full(word)) for text, word in given if word)

    def _in_full(self, word: str) -> str:
        name = self.called(word)
        if name != word:
            return f"{name} ({word})"
        device = next((one for one, called in self.names if called == word), "")
        return f"{word} ({device})" if device else word


def is_platform_id(word: str) -> bool:
    """Whether a word is an address (five colons) or an identifier (four dashes), not a name."""
    return word.count(":") == 5 or (len(word) == 36 and word.count("-") == 4)
