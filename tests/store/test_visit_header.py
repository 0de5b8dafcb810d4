"""Items by their codes, or as the plan calls them."""

from __future__ import annotations

import pytest
from made_acts import HEADER

from posewatch.errors import BadInput


@pytest.mark.parametrize(
    ("word", "code"),
    [("K4", "K4"), (" r7 ", "R7"), ("item 1", "K4"), ("Item 2", "R7")],
)
def test_a_code_by_what_people_say(word: str, code: str) -> None:
    assert HEADER.code_of(word) == code


@pytest.mark.parametrize("word", ["", "K", "item 3", "K4 R7", "Ostrel"])
def test_what_is_no_item(word: str) -> None:
    with pytest.raises(BadInput, match=r"Give one of K4, R7\."):
        HEADER.code_of(word)
