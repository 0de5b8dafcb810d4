"""Codes that cannot be mistaken, and an assignment that follows from nothing but chance."""

from __future__ import annotations

import re
import secrets
from collections import Counter
from itertools import permutations
from random import Random

import pytest
from scipy.stats import chisquare

from posewatch.errors import BadInput
from posewatch.trials.code_list import (
    CODE_PATTERN,
    DIGITS,
    LETTERS,
    CodeList,
    Item,
    folded,
    make_code_list,
    require_items,
)

PLAN = "ab" * 32
CREATED = "2026-03-01T10:11:12+00:00"
NAMES = ("Firm Pad", "Soft pad", "Gel", "Cut-out", "Wool", "Ridge", "Mesh", "Bare")


def drawn(n: int, seed: int = 1) -> CodeList:
    return make_code_list([Item(name) for name in NAMES[:n]], PLAN, CREATED, Random(seed))


@pytest.mark.parametrize("n", range(2, 9))
def test_codes_are_short_equal_in_form_and_differ_in_both_characters(n: int) -> None:
    for seed in range(200):
        codes = drawn(n, seed).codes
        assert len(codes) == n
        assert all(re.fullmatch(CODE_PATTERN, code) for code in codes)
        assert len({code[0] for code in codes}) == len({code[1] for code in codes}) == n


def test_no_character_looks_like_another_or_makes_a_word() -> None:
    """Pairs that are commonly misread in print and handwriting: practice of the trade."""
    alphabet = set(LETTERS + DIGITS)
    assert len(alphabet) == len(LETTERS + DIGITS)
    assert not alphabet & set("AEIOUY01")
    for alike in ("O0DQ", "I1L", "Z2", "S5", "B8", "G6", "UV", "MN", "VY"):
        assert len(alphabet & set(alike)) <= 1


def test_every_item_has_one_code_and_keeps_its_letter() -> None:
    found = drawn(5, seed=3)
    assert [slot.item.name for slot in found.as_named] == list(NAMES[:5])
    assert [slot.card for slot in found.as_named] == list("ABCDE")
    assert [found.behind(code) for code in found.codes] == list(found.slots)
    assert (found.plan_sha256, found.created) == (PLAN, CREATED)
    assert re.fullmatch("[0-9a-f]{64}", found.nonce)
    with pytest.raises(BadInput, match="has no code 'A1'"):
        found.behind("A1")


def test_all_assignments_are_equally_likely() -> None:
    """Chi-square over all 24 orders; scipy.stats.chisquare."""
    chance = Random(20260301)
    items = [Item(name) for name in NAMES[:4]]
    orders: Counter[str] = Counter()
    codes: Counter[str] = Counter()
    for _ in range(4800):
        found = make_code_list(items, PLAN, CREATED, chance)
        orders["".join(slot.card for slot in found.slots)] += 1
        codes[found.codes[0]] += 1
    assert set(orders) == {"".join(order) for order in permutations("ABCD")}
    assert chisquare(list(orders.values())).pvalue > 0.01
    assert len(codes) == len(LETTERS) * len(DIGITS)
    assert chisquare(list(codes.values())).pvalue > 0.01


def test_a_code_does_not_tell_its_item() -> None:
    """Chi-square of code letter against item, 11 x 2; scipy.stats.chisquare."""
    chance = Random(5)
    items = [Item(name) for name in NAMES[:2]]
    counts = Counter(
        (slot.code[0], slot.card)
        for _ in range(3000)
        for slot in make_code_list(items, PLAN, CREATED, chance).slots
    )
    assert len(counts) == 2 * len(LETTERS)
    assert chisquare(list(counts.values())).pvalue > 0.01


def test_the_system_s_chance_fits_and_gives_another_list_each_time() -> None:
    items = [Item("a pad"), Item("b pad")]
    found = {make_code_list(items, PLAN, CREATED, secrets.SystemRandom()).nonce for _ in range(20)}
    assert len(found) == 20


def test_no_repr_gives_an_item_away() -> None:
    found = make_code_list(
        [Item("Firm Pad", "grey, 12 mm"), Item("Gel", "blue")], PLAN, CREATED, Random(1)
    )
    shown = f"{found!r} {found.slots!r} {found.slots[0].item!r}"
    for secret in ("Firm", "Gel", "grey", "blue", found.nonce, "card"):
        assert secret not in shown
    assert found.codes[0] in shown


@pytest.mark.parametrize(
    ("names", "said"),
    [
        (["one"], "1 items cannot be compared"),
        (list("abcdefghi"), "9 items cannot be compared"),
        (["pad x", "  "], "Item B: its name has no letter or digit"),
        (["pad x", "--- !"], "Item B: its name has no letter or digit"),
        (["pad x", "Pad-X"], "Items A and B have the same name"),
        (["pad x", "gel", "GEL "], "Items B and C have the same name"),
        (["pad x", "g\u00e9l", "ge\u0301l"], "Items B and C have the same name"),
        (["pad x", "n" * 81], "Item B: a name may have 80 characters"),
        (["pad\x07x", "gel"], "Item A: it holds characters that cannot be shown"),
        (["pad\nx", "gel"], "Item A: it holds characters that cannot be shown"),
        (["pad\udce9x", "gel"], "Item A: it holds characters that cannot be shown"),
        (["k4", "gel"], "Item A: its name could be taken for a code"),
    ],
)
def test_names_that_cannot_be_are_told_by_letter_and_never_by_name(
    names: list[str], said: str
) -> None:
    with pytest.raises(BadInput) as caught:
        require_items([Item(name) for name in names])
    message = str(caught.value)
    assert said in message
    assert "\n" not in message
    assert not any(name in message for name in names if len(name.strip()) > 2)


def test_words_are_kept_without_the_spaces_around_them() -> None:
    assert require_items([Item(" Pad X ", " soft  "), Item("Gel")]) == (
        Item("Pad X", "soft"),
        Item("Gel", ""),
    )
    with pytest.raises(BadInput, match="a description 300"):
        require_items([Item("Gel", "d" * 301), Item("Pad X")])


def test_the_same_name_in_other_writing_is_the_same() -> None:
    """Case folding and compatibility forms as in the Unicode Standard, chapters 3.13 and 15."""
    assert folded("Stra\u00dfe 9") == folded("STRASSE-9") == "strasse9"
    assert folded("\ufb01rm") == "firm"
    assert folded("blue_nine.json") == "bluenineJSON".casefold()
