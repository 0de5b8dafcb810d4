"""Passphrases: made by the program, or typed by a person and not too easily found."""

from __future__ import annotations

import secrets
import unicodedata

from posewatch.errors import BadInput

LEAST_PASSPHRASE = 12
LEAST_DIFFERENT = 6
#: Without vowels and without what looks alike on a slip: 27 characters, 95 bits in 20 of them.
PASSPHRASE_CHARACTERS = "bcdfghjkmnpqrstvwxz23456789"
PASSPHRASE_GROUPS, PASSPHRASE_GROUP = 4, 5


def as_typed(passphrase: str) -> str:
    """Return a passphrase in one form, however the keyboard composed it, without spaces around."""
    return unicodedata.normalize("NFC", passphrase.strip())


def new_passphrase() -> str:
    """Return a random passphrase of 95 bits, to be shown once and kept on paper."""
    groups = (
        "".join(secrets.choice(PASSPHRASE_CHARACTERS) for _ in range(PASSPHRASE_GROUP))
        for _ in range(PASSPHRASE_GROUPS)
    )
    return "-".join(groups)


def require_passphrase(passphrase: str) -> str:
    """Return a passphrase as it is used, without spaces around it.

    Raises:
        BadInput: too easily found, or not typable.
    """
    kept = as_typed(passphrase)
    if len(kept) < LEAST_PASSPHRASE or len(set(kept)) < LEAST_DIFFERENT:
        raise BadInput(
            "That passphrase is empty or too easily found.",
            f"Take {LEAST_PASSPHRASE} characters or more, {LEAST_DIFFERENT} of them different, "
            "e.g. five words that do not belong together; or have one made.",
        )
    if not kept.isprintable():
        raise BadInput(
            "That passphrase holds characters that cannot be typed again.",
            "Take letters, digits and punctuation.",
        )
    return kept
