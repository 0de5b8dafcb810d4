"""What the rider is asked, and what no answer can be."""

from __future__ import annotations

import math

import pytest
from made_plans import made_design

from posewatch.errors import BadInput
from posewatch.trials.ratings import (
    ENDS,
    Region,
    Scale,
    card_letters,
    require_guess,
    require_rating,
)
from posewatch.trials.words import ConcealmentLevel


def test_every_region_has_both_scales_from_0_to_10() -> None:
    for region in Region:
        for scale in Scale:
            for value in (None, 0.0, 0.5, 10.0):
                require_rating(region, scale, value)
    assert {*ENDS} == {*Scale}


@pytest.mark.parametrize(
    ("region", "scale", "value", "said"),
    [
        ("knee", "pain", 1.0, "'knee' is no region. Give one of: left sit bone,"),
        ("front", "joy", 1.0, "'joy' is no scale. Give comfort or pain."),
        ("front", "pain", -0.1, "A rating cannot be -0.1. Give 0 to 10."),
        ("front", "pain", 10.5, "A rating cannot be 10.5."),
        ("front", "pain", math.nan, "A rating cannot be nan."),
        ("front", "pain", math.inf, "A rating cannot be inf."),
    ],
)
def test_what_no_rating_is(region: str, scale: str, value: float, said: str) -> None:
    with pytest.raises(BadInput) as raised:
        require_rating(region, scale, value)
    assert said in str(raised.value)


def test_a_card_has_a_letter_an_item_and_a_guess_is_one_of_them() -> None:
    design = made_design(n_items=3, concealment=ConcealmentLevel.ITEM_COVERED)
    assert card_letters(design) == "ABC"
    for letter in (*"ABC", None):
        require_guess(design, letter, 0)
        require_guess(design, letter, 10)
    for letter, confidence in (("D", 5), ("a", 5), ("", 5), ("A", -1), ("A", 11)):
        with pytest.raises(BadInput):
            require_guess(design, letter, confidence)
    with pytest.raises(BadInput, match="not concealed"):
        require_guess(made_design(), "A", 5)
