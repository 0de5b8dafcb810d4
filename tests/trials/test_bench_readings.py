"""Hardness of items: summed up, warned of, never compared across scales."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from posewatch.errors import BadInput
from posewatch.trials.acts import Gauged
from posewatch.trials.bench_readings import (
    D2240_TYPES,
    Place,
    by_place,
    difference,
    hardness,
    require_gauged,
    scale_type,
)

GOOD = Gauged(
    t_ns=0,
    code="K4",
    scale="Shore OO",
    zone="sit bone",
    side="left",
    dwell_s=3.0,
    backing="glass plate",
    readings=(31.0, 33.0, 32.0, 38.0, 32.0),
    thickness_mm=12.0,
    temperature_c=23.0,
)


def test_five_readings_are_summed_up() -> None:
    # Reckoned by hand: the sum is 166, the squares about 33.2 are 4.84 + 0.04 + 1.44 + 23.04 + 1.44
    # = 30.8, and the root of 30.8 / 4 is 2.775.
    one = hardness(GOOD)
    assert one.median == 32.0
    assert one.mean == pytest.approx(33.2, abs=1e-12)
    assert one.sd == pytest.approx(2.775, abs=5e-4)
    assert one.sd == pytest.approx(np.std(GOOD.readings, ddof=1), abs=1e-12)
    assert (one.low, one.high) == (31.0, 38.0)
    assert one.warnings == ()


def test_one_reading_has_no_spread() -> None:
    one = hardness(replace(GOOD, readings=(40.0,)))
    assert (one.median, one.mean, one.sd) == (40.0, 40.0, None)
    assert one.warnings == ("1 reading; ASTM D2240-15 takes 5",)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"readings": (31.0, 33.0, 32.0)}, "3 readings; ASTM D2240-15 takes 5"),
        ({"readings": (19.9, 33.0, 32.0, 90.1, 32.0)}, "2 of 5 outside 20 to 90"),
        ({"thickness_mm": 5.9}, "5.9 mm thick, under 6 mm (ASTM D2240-15)"),
        ({"thickness_mm": None}, "thickness not known"),
        ({"temperature_c": 20.9}, "at 20.9 degrees C, outside 23 +- 2"),
        ({"temperature_c": 25.1}, "at 25.1 degrees C"),
        ({"temperature_c": None}, "temperature not known"),
        ({"backing": " "}, "backing not said"),
        ({"scale": "Shore F"}, "'Shore F' is no type of ASTM D2240-15 or ISO 48-4:2018"),
        ({"scale": "Shore C"}, "'C' is on two kinds of gauge"),
    ],
)
def test_what_makes_it_doubtful_is_said(changes: dict[str, Any], words: str) -> None:
    warnings = hardness(replace(GOOD, **changes)).warnings
    assert len(warnings) == 1
    assert words in warnings[0]


@pytest.mark.parametrize(
    "changes",
    [
        {"readings": (20.0, 90.0, 32.0, 38.0, 32.0)},
        {"thickness_mm": 6.0},
        {"temperature_c": 21.0},
        {"temperature_c": 25.0},
    ],
)
def test_the_limits_themselves_are_good(changes: dict[str, Any]) -> None:
    assert hardness(replace(GOOD, **changes)).warnings == ()


def test_the_standard_has_twelve_types() -> None:
    # ASTM D2240-15, scope: "Types A, B, C, D, DO, E, M, O, OO, OOO, OOO-S, and R".
    assert len(D2240_TYPES) == 12


@pytest.mark.parametrize(
    ("printed", "known"),
    [
        ("Shore A", "A"),
        ("shore 00", "OO"),
        ("Type OOO-S", "OOO-S"),
        ("000", "OOO"),
        ("Durometer do", "DO"),
        ("ShoreAO", "AO"),
        ("Shore (AM)", "AM"),
        ("CF", "CF"),
        ("Shore F", None),
        ("sponge gauge 7", None),
        ("IRHD", None),
        ("Shore", None),
    ],
)
def test_scales_are_known_as_gauges_print_them(printed: str, known: str | None) -> None:
    assert scale_type(printed) == known


def test_a_scale_without_a_standard_stays_as_printed() -> None:
    assert hardness(replace(GOOD, scale="Shore F ")).place.scale == "Shore F"


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"readings": ()}, "no hardness reading"),
        ({"readings": (30.0, math.nan)}, "A hardness reading cannot be nan"),
        ({"readings": (101.0,)}, "cannot be 101"),
        ({"readings": (-11.0,)}, "cannot be -11"),
        ({"scale": " "}, "The scale of a hardness reading is not said"),
        ({"zone": ""}, "The zone of a hardness reading is not said"),
        ({"dwell_s": -1.0}, "A dwell in seconds cannot be -1"),
        ({"dwell_s": math.inf}, "A dwell in seconds cannot be inf"),
        ({"thickness_mm": 0.0}, "A thickness in mm cannot be 0"),
        ({"temperature_c": 300.0}, "A temperature in degrees C cannot be 300"),
    ],
)
def test_what_cannot_be_is_refused(changes: dict[str, Any], words: str) -> None:
    with pytest.raises(BadInput, match=words):
        require_gauged(replace(GOOD, **changes))


def test_a_gauge_may_rest_a_little_below_nought() -> None:
    require_gauged(replace(GOOD, readings=(-1.0,)))


def test_readings_are_kept_apart_by_item_type_zone_and_side() -> None:
    again = replace(GOOD, t_ns=9, scale="Shore 00", readings=(34.0,) * 5)
    found = by_place([GOOD, replace(GOOD, side="right"), again, replace(GOOD, scale="Shore A")])
    left = found[Place("K4", "OO", "sit bone", "left")]
    assert [one.median for one in left] == [32.0, 34.0]
    assert len(found) == 3


def test_another_type_is_never_compared() -> None:
    with pytest.raises(BadInput, match="'Shore OO' and 'Shore A' cannot be compared"):
        difference(hardness(GOOD), hardness(replace(GOOD, scale="Shore A")))
    with pytest.raises(BadInput, match="cannot be compared"):
        difference(hardness(replace(GOOD, scale="F1")), hardness(replace(GOOD, scale="F2")))


def test_a_difference_says_what_makes_it_doubtful() -> None:
    other = replace(GOOD, scale="Shore 00", readings=(40.0,) * 5)
    assert difference(hardness(GOOD), hardness(other)) == (8.0, ())
    elsewhere = replace(other, dwell_s=1.0, backing="saddle", thickness_mm=None, temperature_c=26.0)
    change, doubts = difference(hardness(GOOD), hardness(elsewhere))
    assert change == 8.0
    said = "; ".join(doubts)
    for words in ("3 s and 1 s", "'glass plate' and 'saddle'", "thicknesses", "3 degrees C apart"):
        assert words in said
