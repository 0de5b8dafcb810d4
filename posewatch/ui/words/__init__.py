"""The rider's corrections as spoken words, one file each, and the script that made them."""

from __future__ import annotations

import re
from pathlib import Path

from posewatch.core.cues import HAND_WORDS, RESTLESS_WORDS, WORDS

#: Every wording that can be spoken.
SPOKEN = (
    *(words for pair in WORDS.values() for words in pair),
    *(words for pair in HAND_WORDS for words in pair),
    RESTLESS_WORDS,
)


def file_of(words: str) -> Path:
    """Return the file of a wording."""
    return Path(__file__).parent / f"{re.sub(r'[^a-z]+', '_', words)}.wav"
