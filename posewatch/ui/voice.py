"""Plays what the rider hears, on the machine's default output.

The sound library lives on a thread of its own: opening an output takes from milliseconds to
seconds, and a sound server that hangs must not stop a window. Without a library, without an
output, or when one fails, there is a text for people and nothing else happens; each new sound tries
again.
"""

from __future__ import annotations

from collections.abc import Callable
from importlib import import_module
from typing import Any

from posewatch.runtime.handover import LatestSlot, Worker
from posewatch.ui.tones import samples
from posewatch.ui.voice_view import Sound

NO_LIBRARY = "no sound: the sound library PortAudio is missing"
NO_OUTPUT = "no sound: no loudspeaker or headphones found"
FAILED = "no sound"


def _sounddevice() -> Any:
    return import_module("sounddevice")


class Voice:
    """Plays sounds, one at a time, the newest first; used by one thread.

    load: gives the sound library. Raises nothing, ever, but from ``close`` on it is silent.
    """

    def __init__(self, load: Callable[[], Any] = _sounddevice) -> None:
        self._load = load
        self._slot: LatestSlot[Sound] = LatestSlot()
        self._no_sound = ""
        self._worker = Worker("voice", self._work)
        self._worker.start()

    @property
    def no_sound(self) -> str:
        """Why nothing is heard, for people; empty = nothing is known to be wrong."""
        return self._no_sound

    def play(self, sound: Sound) -> None:
        """Play a sound instead of any that is under way; returns at once."""
        self._slot.put(sound)

    def close(self, timeout_s: float = 1.0) -> bool:
        """End; False = the sound library did not let go in time."""
        self._slot.close()
        self._worker.join(timeout_s)
        return not self._worker.is_alive()

    def _work(self) -> None:
        try:
            library = self._load()
        except (ImportError, OSError):
            self._no_sound = NO_LIBRARY
            return
        self._try(lambda: _default_output(library))
        while (sound := self._slot.take()) is not None:
            self._try(lambda sound=sound: self._play(library, sound))  # type: ignore[misc]
        self._try(library.stop)

    def _play(self, library: Any, sound: Sound) -> None:
        if self._no_sound:
            # The library knows only what was plugged in when it started.
            library._terminate()
            library._initialize()
        rate_hz = _default_output(library)
        library.play(samples(sound, rate_hz), rate_hz)

    def _try(self, act: Callable[[], object]) -> None:
        try:
            act()
        except Exception as error:  # whatever a sound driver comes up with, the ride goes on
            self._no_sound = NO_OUTPUT if isinstance(error, _NoOutput) else f"{FAILED}: {error}"
        else:
            self._no_sound = ""


class _NoOutput(Exception):
    """The machine has nothing to play on."""


def _default_output(library: Any) -> int:
    """Return the default output's rate, samples a second."""
    try:
        found = library.query_devices(kind="output")
    except (ValueError, library.PortAudioError) as error:
        raise _NoOutput from error
    return int(found["default_samplerate"])
