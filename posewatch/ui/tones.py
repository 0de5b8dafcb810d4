"""The sounds themselves, as samples: two tunes made here, and words read from files. Without Qt."""

from __future__ import annotations

import wave
from functools import lru_cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from posewatch.ui.voice_view import Sound, Tone
from posewatch.ui.words import file_of

Samples = NDArray[np.float32]

#: Samples a second of the files, and of all that is made here.
RATE_HZ = 16_000
#: Note (Hz, equal temperament on A4 = 440) and how long (s). Up: three quick even notes; down: a
#: short and a long one, so that the two differ in rhythm too.
TUNES = {
    Tone.RISING: ((523.25, 0.09), (659.26, 0.09), (783.99, 0.14)),
    Tone.FALLING: ((587.33, 0.10), (392.00, 0.30)),
}
#: Overtones, as shares of the note itself.
OVERTONES = (1.0, 0.35, 0.12)
EDGE_S = 0.012
LOUDNESS = 0.5
BEFORE_WORDS_S = 0.12


def samples(sound: Sound, rate_hz: int) -> Samples:
    """Return a sound as (n,) float32 within -1 to 1, at a rate of the caller's.

    Raises:
        OSError, wave.Error, EOFError: the words' file is missing or damaged.
    """
    parts = [tune(sound.tone)]
    if sound.words:
        parts += [np.zeros(round(BEFORE_WORDS_S * RATE_HZ), np.float32)]
        parts += [read_words(file_of(sound.words))]
    return resampled(np.concatenate(parts), rate_hz)


@lru_cache
def tune(tone: Tone) -> Samples:
    """Return a tune, (n,) float32, at RATE_HZ."""
    return np.concatenate([_note(hz, seconds) for hz, seconds in TUNES[tone]])


def _note(hz: float, seconds: float) -> Samples:
    t_s = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    sums = sum(
        share * np.sin(2 * np.pi * (number + 1) * hz * t_s)
        for number, share in enumerate(OVERTONES)
    )
    # It begins and ends softly, and fades meanwhile as a struck note does.
    edge = np.minimum(np.minimum(t_s, seconds - t_s) / EDGE_S, 1.0)
    soft = np.sin(0.5 * np.pi * edge) ** 2 * np.exp(-2.0 * t_s)
    return (LOUDNESS / sum(OVERTONES) * soft * sums).astype(np.float32)


@lru_cache(maxsize=32)
def read_words(path: Path) -> Samples:
    """Return spoken words, (n,) float32, at RATE_HZ.

    Raises:
        OSError, wave.Error, EOFError: the file is missing, damaged or not 16 bit mono at RATE_HZ.
    """
    with wave.open(str(path), "rb") as file:
        form = file.getnchannels(), file.getsampwidth(), file.getframerate()
        if form != (1, 2, RATE_HZ):
            raise wave.Error(f"{path.name} is not 16 bit mono at {RATE_HZ} Hz")
        whole = np.frombuffer(file.readframes(file.getnframes()), "<i2")
    return (whole / 32768.0).astype(np.float32)


def resampled(given: Samples, rate_hz: int) -> Samples:
    """Return the same at another rate, band-limited: its spectrum is cut or filled with zeros."""
    if rate_hz == RATE_HZ:
        return given
    n = round(len(given) * rate_hz / RATE_HZ)
    spectrum = np.fft.rfft(given)[: n // 2 + 1]
    return (np.fft.irfft(spectrum, n) * (n / len(given))).astype(np.float32)
