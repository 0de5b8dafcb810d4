"""Make the files of spoken words. Run by hand, where the speech synthesiser flite is installed::

    python -m posewatch.ui.words.make_words

The same version of flite gives the same files, byte for byte. Silence at both ends is cut off, and
all are made equally loud.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import wave
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from posewatch.ui.words import SPOKEN, file_of

VOICE = "slt"
RATE_HZ = 16_000
#: Silence is what stays under this share of the loudest; so much of it is left at both ends.
SILENT, LEFT_S = 0.02, 0.03
#: Loudness of all, as RMS of full scale, and what no sample may exceed.
RMS, MOST = 0.12, 0.95


def synthesised(words: str) -> NDArray[np.float64]:
    """Return words as flite speaks them, (n,) float64 within -1 to 1.

    Raises:
        OSError, subprocess.CalledProcessError: flite is missing or failed.
    """
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "words.wav"
        subprocess.run(["flite", "-voice", VOICE, "-t", words, "-o", str(path)], check=True)
        with wave.open(str(path), "rb") as file:
            if (file.getnchannels(), file.getsampwidth(), file.getframerate()) != (1, 2, RATE_HZ):
                raise OSError(f"flite did not give 16 bit mono at {RATE_HZ} Hz")
            return np.frombuffer(file.readframes(file.getnframes()), "<i2") / 32768.0


def trimmed(spoken: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the same without silence at both ends, as loud as all others, edges softened."""
    loud = np.flatnonzero(np.abs(spoken) > SILENT * np.abs(spoken).max())
    left = round(LEFT_S * RATE_HZ)
    part = spoken[max(0, loud[0] - left) : loud[-1] + left]
    part = part * min(RMS / np.sqrt(np.mean(part**2)), MOST / np.abs(part).max())
    edge = np.minimum(np.arange(len(part)), np.arange(len(part))[::-1]) / left
    return np.asarray(part * np.minimum(edge, 1.0), np.float64)


def write(path: Path, spoken: NDArray[np.float64]) -> None:
    """Write samples as 16 bit mono."""
    part = path.with_suffix(".part")
    with wave.open(str(part), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE_HZ)
        file.writeframes(np.round(spoken * 32767.0).astype("<i2").tobytes())
    os.replace(part, path)


def main() -> None:
    """Make all files anew."""
    for words in SPOKEN:
        write(file_of(words), trimmed(synthesised(words)))
    sys.stdout.write(f"{len(SPOKEN)} files\n")


if __name__ == "__main__":
    main()
