"""Playing sounds, with a sound library that fails in every way."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from typing import Any

import numpy as np
import pytest

from posewatch.ui import voice as voice_module
from posewatch.ui.tones import samples
from posewatch.ui.voice import NO_LIBRARY, NO_OUTPUT, Voice
from posewatch.ui.voice_view import Sound, Tone

RISE = Sound(Tone.RISING)
WORDS = Sound(Tone.FALLING, "sit back")


class MadeLibrary:
    """Speaks like the sound library."""

    class PortAudioError(Exception):
        """What the library raises."""

    def __init__(self, has_output: bool = True) -> None:
        self.has_output = has_output
        self.error: Exception | None = None
        self.played: list[tuple[Any, int]] = []
        self.n_started = 0
        self.n_stopped = 0
        self.threads: set[str] = set()

    def query_devices(self, kind: str) -> dict[str, Any]:
        assert kind == "output"
        if not self.has_output:
            raise self.PortAudioError("Error querying device -1")
        return {"default_samplerate": 48_000.0}

    def play(self, data: Any, samplerate: int) -> None:
        self.threads.add(threading.current_thread().name)
        if self.error is not None:
            raise self.error
        self.played.append((data, samplerate))

    def stop(self) -> None:
        self.n_stopped += 1

    def _terminate(self) -> None:
        pass

    def _initialize(self) -> None:
        self.n_started += 1


@pytest.fixture
def voices() -> Iterator[Callable[[Callable[[], Any]], Voice]]:
    made: list[Voice] = []

    def make(load: Callable[[], Any]) -> Voice:
        made.append(Voice(load))
        return made[-1]

    yield make
    for one in made:
        one.close()


def wait_for(condition: Callable[[], bool]) -> None:
    """Wait until something is so."""
    bell = threading.Event()
    for _ in range(500):
        if condition():
            return
        bell.wait(0.01)
    raise AssertionError("it did not come to that")


def test_sounds_are_played_at_the_outputs_rate_off_the_main_thread(voices: Any) -> None:
    library = MadeLibrary()
    voice = voices(lambda: library)
    voice.play(WORDS)
    wait_for(lambda: len(library.played) == 1)
    data, rate_hz = library.played[0]
    assert rate_hz == 48_000
    np.testing.assert_array_equal(data, samples(WORDS, 48_000))
    assert library.threads == {"voice"}
    assert voice.close()
    assert (voice.no_sound, library.n_stopped) == ("", 1)


@pytest.mark.parametrize("error", [ImportError("none"), OSError("PortAudio library not found")])
def test_without_the_library_it_is_silent_and_says_so(voices: Any, error: Exception) -> None:
    def load() -> Any:
        raise error

    voice = voices(load)
    wait_for(lambda: voice.no_sound == NO_LIBRARY)
    voice.play(RISE)
    assert voice.close()


def test_an_output_that_is_plugged_in_later_is_found(voices: Any) -> None:
    library = MadeLibrary(has_output=False)
    voice = voices(lambda: library)
    wait_for(lambda: voice.no_sound == NO_OUTPUT)
    voice.play(RISE)
    wait_for(lambda: library.n_started == 1)
    assert voice.no_sound == NO_OUTPUT
    library.has_output = True
    voice.play(RISE)
    wait_for(lambda: voice.no_sound == "")
    assert len(library.played) == 1


def test_an_output_that_fails_later_is_told_and_tried_again(voices: Any) -> None:
    library = MadeLibrary()
    library.error = library.PortAudioError("device unavailable")
    voice = voices(lambda: library)
    voice.play(RISE)
    wait_for(lambda: voice.no_sound == "no sound: device unavailable")
    library.error = None
    voice.play(RISE)
    wait_for(lambda: voice.no_sound == "")


def test_a_sound_server_that_hangs_does_not_hold_anybody_up(voices: Any) -> None:
    goes_on = threading.Event()

    def load() -> Any:
        goes_on.wait(10.0)
        raise OSError

    voice = voices(load)
    for _ in range(100):
        voice.play(RISE)
    assert not voice.close(timeout_s=0.01)
    goes_on.set()
    assert voice.close(timeout_s=5.0)


def test_only_the_newest_sound_waits(voices: Any) -> None:
    library, may_load = MadeLibrary(), threading.Event()

    def load() -> MadeLibrary:
        may_load.wait(10.0)
        return library

    voice = voices(load)
    voice.play(RISE)
    voice.play(WORDS)
    may_load.set()
    wait_for(lambda: len(library.played) == 1)
    assert len(library.played[0][0]) == len(samples(WORDS, 48_000))


def test_the_real_library_never_raises(voices: Any) -> None:
    voice = voices(voice_module._sounddevice)
    voice.play(RISE)
    assert voice.close(timeout_s=20.0)
    assert voice.no_sound == "" or voice.no_sound.startswith("no sound")
