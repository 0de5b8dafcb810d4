"""The switches that people set while it runs, and what is remembered of them. Without Qt."""

from __future__ import annotations

from dataclasses import replace

from posewatch.core.envelope import Target
from posewatch.store.remembered import Memory
from posewatch.ui.scene import Switches
from posewatch.ui.theme import DARK, LIGHT, THEMES, ThemeName
from posewatch.ui.voice_view import speaks_by_default

BRIGHTNESS_STEP = 0.1
LEAST_BRIGHTNESS = 0.2


class Switchboard:
    """Sets switches; theme and brightness are remembered for the next time."""

    def __init__(self, memory: Memory) -> None:
        self._memory = memory
        self._hands: str | None = None
        chosen = memory.choices
        self.switches = Switches(
            brightness=chosen.brightness, theme=THEMES[ThemeName(chosen.theme)]
        )

    def follow(self, target: Target | None, no_sound: str) -> None:
        """Speak by default where the rider sees no screen; a new hand position decides anew."""
        hands = None if target is None else target.hands
        if hands is not None and hands != self._hands:
            self._hands = hands
            self._set(speech=speaks_by_default(hands))
        if no_sound != self.switches.no_sound:
            self._set(no_sound=no_sound)

    def toggle_cues(self) -> None:
        """Correct the rider, or let him ride."""
        self._set(cues=not self.switches.cues)

    def toggle_sound(self) -> None:
        """Tones and words, or silence."""
        self._set(sound=not self.switches.sound)

    def toggle_speech(self) -> None:
        """Spoken words, or tones alone."""
        self._set(speech=not self.switches.speech)

    def toggle_theme(self) -> None:
        """Dark, or light."""
        theme = LIGHT if self.switches.theme is DARK else DARK
        self._set(theme=theme)
        self._memory.keep(theme=str(theme.name))

    def brighten(self, steps: int) -> None:
        """Make the rider's window brighter (1) or dimmer (-1)."""
        wished = round(self.switches.brightness + steps * BRIGHTNESS_STEP, 1)
        self._set(brightness=min(1.0, max(LEAST_BRIGHTNESS, wished)))
        self._memory.keep(brightness=self.switches.brightness)

    def _set(self, **changes: object) -> None:
        self.switches = replace(self.switches, **changes)  # type: ignore[arg-type]
