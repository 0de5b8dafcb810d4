"""The sounds: tunes, spoken words and other rates."""

from __future__ import annotations

import math
import wave
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from posewatch.ui.tones import BEFORE_WORDS_S, RATE_HZ, TUNES, read_words, resampled, samples, tune
from posewatch.ui.voice_view import BETWEEN_NS, Sound, Tone
from posewatch.ui.words import SPOKEN, file_of


@pytest.mark.parametrize("tone", Tone)
def test_tunes_are_short_soft_at_the_edges_and_not_too_loud(tone: Tone) -> None:
    made = tune(tone)
    assert len(made) / RATE_HZ < 0.5
    assert abs(made[0]) < 0.001
    assert abs(made[-1]) < 0.02
    assert 0.2 < np.abs(made).max() < 0.6
    assert np.abs(np.diff(made)).max() < 0.25


def test_the_tunes_go_up_and_down_and_differ_in_rhythm() -> None:
    def loudest_hz(part: np.ndarray) -> float:
        return float(np.abs(np.fft.rfft(part, RATE_HZ)).argmax())

    for tone, rises in ((Tone.RISING, True), (Tone.FALLING, False)):
        heard, start = [], 0
        for hz, seconds in TUNES[tone]:
            part = tune(tone)[start : start + round(seconds * RATE_HZ)]
            heard.append(loudest_hz(part))
            assert heard[-1] == pytest.approx(hz, abs=4)
            start += len(part)
        assert all((b > a) is rises for a, b in pairwise(heard))
    assert len(TUNES[Tone.RISING]) != len(TUNES[Tone.FALLING])


@pytest.mark.parametrize("words", SPOKEN)
def test_every_wording_has_an_audible_file(words: str) -> None:
    spoken = read_words(file_of(words))
    assert 0.4 < len(spoken) / RATE_HZ < 2.0
    assert 0.05 < math.sqrt(float(np.mean(spoken**2))) < 0.3
    assert np.abs(spoken).max() < 0.99
    assert max(abs(float(spoken[0])), abs(float(spoken[-1]))) < 0.01


def test_every_wording_has_a_file_of_its_own_and_none_is_left_over() -> None:
    files = {file_of(words) for words in SPOKEN}
    assert len(files) == len(SPOKEN)
    assert files == set(file_of("x").parent.glob("*.wav"))


def test_the_longest_correction_is_said_before_another_comes() -> None:
    longest = max(len(samples(Sound(Tone.FALLING, words), RATE_HZ)) for words in SPOKEN)
    assert longest / RATE_HZ < BETWEEN_NS / 1e9


def test_words_come_after_the_tune() -> None:
    both = samples(Sound(Tone.FALLING, "sit back"), RATE_HZ)
    first = len(tune(Tone.FALLING)) + round(BEFORE_WORDS_S * RATE_HZ)
    np.testing.assert_array_equal(both[first:], read_words(file_of("sit back")))


@pytest.mark.parametrize("rate_hz", [8_000, 44_100, 48_000])
def test_another_rate_sounds_the_same(rate_hz: int) -> None:
    t_s = np.arange(RATE_HZ // 2) / RATE_HZ
    given = (np.sin(2 * np.pi * 440 * t_s) * np.hanning(len(t_s))).astype(np.float32)
    got = resampled(given, rate_hz)
    at_s = np.arange(len(got)) / rate_hz
    wanted = np.sin(2 * np.pi * 440 * at_s) * np.interp(at_s, t_s, np.hanning(len(t_s)))
    np.testing.assert_allclose(got, wanted, atol=2e-3)


def test_a_file_of_another_form_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "words.wav"
    with wave.open(str(path), "wb") as file:
        file.setnchannels(2)
        file.setsampwidth(2)
        file.setframerate(RATE_HZ)
        file.writeframes(b"\0" * 64)
    with pytest.raises(wave.Error, match="16 bit mono"):
        read_words(path)
