"""Passphrases that are not found by trying."""

from __future__ import annotations

import math
import re
from collections import Counter

import pytest
from scipy.stats import chisquare

from posewatch.errors import BadInput
from posewatch.store.passphrase import (
    PASSPHRASE_CHARACTERS,
    as_typed,
    new_passphrase,
    require_passphrase,
)


def test_a_new_passphrase_has_eighty_bits_or_more_and_fits_its_own_rule() -> None:
    made = {new_passphrase() for _ in range(300)}
    assert len(made) == 300
    for one in made:
        assert re.fullmatch(
            f"([{PASSPHRASE_CHARACTERS}]{{5}}-){{3}}[{PASSPHRASE_CHARACTERS}]{{5}}", one
        )
        assert require_passphrase(one) == one
    assert 20 * math.log2(len(set(PASSPHRASE_CHARACTERS))) > 80
    assert not set(PASSPHRASE_CHARACTERS) & set("aeiouyl01")
    # scipy.stats.chisquare; once in a million runs it may fail, since nobody seeds it.
    counts = Counter("".join(made).replace("-", ""))
    assert len(counts) == len(PASSPHRASE_CHARACTERS)
    assert chisquare(list(counts.values())).pvalue > 1e-6


@pytest.mark.parametrize(
    "short", ["", "   ", "elevenchars", "a b c", "aaaaaaaaaaaaaaaa", "121212121212"]
)
def test_a_passphrase_that_is_easily_found_is_refused_with_what_to_do(short: str) -> None:
    with pytest.raises(BadInput) as caught:
        require_passphrase(short)
    message = str(caught.value)
    assert message.startswith("That passphrase is empty or too easily found. Take 12 characters")
    assert not short.strip() or short not in message


def test_what_cannot_be_typed_again_is_refused() -> None:
    for odd in ("twelve chars\x00 and", "twelve chars\udce9 and"):
        with pytest.raises(BadInput, match="cannot be typed again"):
            require_passphrase(odd)


def test_keyboards_that_compose_otherwise_give_the_same() -> None:
    """NFC of RFC 8265, section 4.2 (OpaqueString)."""
    assert as_typed(" cafe\u0301 au lait, s'il ") == "caf\u00e9 au lait, s'il"
