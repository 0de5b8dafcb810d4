"""Guesses, reveals that wait for the data lock, and names found where none should be."""

from __future__ import annotations

from itertools import product
from random import Random

import pytest

from posewatch.errors import BadInput
from posewatch.trials.code_list import CodeList, Item, make_code_list
from posewatch.trials.concealment import (
    EARLY_STAMP,
    Guess,
    Refusal,
    Reveal,
    decide_reveal,
    guessed_right,
    names_in,
)

AT = "2026-03-01T10:11:12+00:00"
SHA, OTHER = "ab" * 32, "cd" * 32


@pytest.fixture
def codes() -> CodeList:
    return make_code_list([Item("Firm Pad"), Item("Gel"), Item("Wool")], SHA, AT, Random(4))


def test_a_guess_is_right_wrong_or_not_known(codes: CodeList) -> None:
    for slot, letter in product(codes.slots, "ABC"):
        assert guessed_right(Guess(slot.code, letter, 7, "firmer"), codes) is (slot.card == letter)
    assert guessed_right(Guess(codes.codes[0], None, 0), codes) is None


def test_a_guess_of_another_list_is_refused(codes: CodeList) -> None:
    with pytest.raises(BadInput, match="says D, and there are 3 items"):
        guessed_right(Guess(codes.codes[0], "D", 7), codes)
    with pytest.raises(BadInput, match="has no code"):
        guessed_right(Guess("Q1", None, 0), codes)


@pytest.mark.parametrize("confidence", [-1, 11, 3.0, True, None, "7"])
def test_a_confidence_that_cannot_be(confidence: object) -> None:
    with pytest.raises(BadInput, match="whole number, 0"):
        Guess("K4", "A", confidence)  # type: ignore[arg-type]


@pytest.mark.parametrize("guess", ["", "I", "a", "AB", "Firm Pad", 1])
def test_a_guess_that_is_no_letter_of_a_card_is_not_repeated(guess: object) -> None:
    with pytest.raises(BadInput) as caught:
        Guess("K4", guess, 5)  # type: ignore[arg-type]
    assert str(caught.value).startswith("A guess is a letter from the rider's card. Give A, B,")
    assert "Firm" not in str(caught.value)


@pytest.mark.parametrize(
    ("locked", "forced", "stamp"),
    [(True, False, ""), (True, True, ""), (False, True, EARLY_STAMP)],
)
def test_a_reveal_after_the_lock_or_forced_and_then_stamped(
    locked: bool, forced: bool, stamp: str
) -> None:
    found = decide_reveal(
        " the fitter ", " all done ", AT, SHA, published=SHA, locked=locked, forced=forced
    )
    assert found == Reveal("the fitter", "all done", AT, not locked, SHA)
    assert isinstance(found, Reveal)
    assert found.stamp == stamp


def test_a_reveal_before_the_lock_is_refused() -> None:
    found = decide_reveal("x", "y", AT, SHA, published=SHA, locked=False, forced=False)
    assert isinstance(found, Refusal)
    assert "not locked yet" in found.what
    assert "force" in found.advice


@pytest.mark.parametrize("forced", [True, False])
def test_another_file_than_the_published_is_never_revealed(forced: bool) -> None:
    found = decide_reveal("x", "y", AT, OTHER, published=SHA, locked=True, forced=forced)
    assert isinstance(found, Refusal)
    assert OTHER in found.what
    assert SHA in found.what
    assert isinstance(
        decide_reveal("x", "y", AT, OTHER, published=None, locked=True, forced=forced), Reveal
    )


@pytest.mark.parametrize(
    ("who", "why", "missing"),
    [("", "y", "not said who."), ("x", " ", "not said why."), (" ", "", "not said who and why.")],
)
def test_a_reveal_says_who_and_why(who: str, why: str, missing: str) -> None:
    found = decide_reveal(who, why, AT, SHA, published=SHA, locked=True, forced=True)
    assert isinstance(found, Refusal)
    assert missing in found.what


@pytest.mark.parametrize(
    "text",
    [
        "the blue nine feels firm",
        "BLUE NINE",
        "BlueNine",
        "blue-nine, again",
        '{"item": "Blue  nine"}',
        "/home/x/blue_nine.json",
        "testbluenine2",
        "\uff22lue nine",
        "blue\u00a0nine",
        "blue\nnine",
    ],
)
def test_a_name_is_found_however_it_is_written(text: str) -> None:
    assert names_in(text, ["Gel X", "Blue-Nine"]) == (1,)


def test_a_short_name_is_found_as_words_only() -> None:
    names = ["Gel", "Old", "X 2"]
    assert names_in("gel!", names) == (0,)
    assert names_in("the x-2, or X2; old.", names) == (1, 2)
    assert names_in("angels scolded: max 2 gels, x 20", names) == ()


def test_nothing_is_found_where_nothing_is() -> None:
    assert names_in("", ["Gel"]) == ()
    assert names_in("some text", []) == ()
    assert names_in("some text", ["", "--"]) == ()
    assert names_in("K4 R7 item 1", ["Firm Pad", "Gel"]) == ()


def test_composed_and_decomposed_accents_are_one() -> None:
    assert names_in("la s\u00e9rie douce", ["se\u0301rie Douce"]) == (0,)
