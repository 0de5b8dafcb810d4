"""An item's passport is put together from visits that share one code list."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from posewatch.errors import BadInput
from posewatch.trials.acts import Act, Gauged, ItemFact, Noted
from posewatch.trials.item_passport import UNITS, BenchRecord, Fact, passports, require_fact

CODES = ("K4", "T7")


def record(*acts: tuple[int, Act], ridden_ns: int = 0, belongs_to: str = "ab") -> BenchRecord:
    return BenchRecord(belongs_to, CODES, acts, {"K4": ridden_ns})


def fact(name: str, value: float, code: str = "K4") -> ItemFact:
    return ItemFact(0, code, name, value)


GAUGED = Gauged(0, "K4", "Shore OO", "nose", "", 3.0, "glass", (30.0,) * 5, 10.0, 23.0)


def test_facts_of_visits_come_together_in_the_order_of_time() -> None:
    second = record((300, fact("washes", 4)), (310, fact("weight", 182.5)), ridden_ns=7)
    first = record((100, fact("washes", 3)), (120, GAUGED), (130, Noted(0, "x")), ridden_ns=5)
    mine, other = passports([second, first])
    assert mine.code == "K4"
    assert [entry.value for entry in mine.facts[Fact.WASHES]] == [3, 4]
    assert [entry.wall_ns for entry in mine.facts[Fact.WASHES]] == [100, 300]
    assert mine.latest(Fact.WEIGHT) == 182.5
    assert mine.latest(Fact.DRYING_TIME) is None
    assert [(when, one.median) for when, one in mine.gauged] == [(120, 30.0)]
    assert (mine.ridden_ns, mine.warnings) == (12, ())
    assert (other.code, other.facts, other.gauged, other.ridden_ns) == ("T7", {}, (), 0)


def test_what_only_grows_is_told_when_it_falls() -> None:
    (mine, _) = passports([record((1, fact("washes", 5)), (2, fact("washes", 3)))])
    assert mine.warnings == ("washes fell from 5 to 3",)
    (mine, _) = passports([record((1, fact("weight", 190)), (2, fact("weight", 185)))])
    assert mine.warnings == ()


def test_what_cannot_be_is_left_out_and_named() -> None:
    bad = (fact("colour", 3), replace(GAUGED, readings=()))
    (mine, _) = passports([record(*((k, act) for k, act in enumerate(bad)))])
    assert (mine.facts, mine.gauged) == ({}, ())
    assert mine.warnings == (
        "left out: 'colour' is no fact of an item.",
        "left out: There is no hardness reading.",
    )


@pytest.mark.parametrize("other", [record(belongs_to="cd"), replace(record(), codes=("K4", "T8"))])
def test_visits_of_another_code_list_are_refused(other: BenchRecord) -> None:
    with pytest.raises(BadInput, match="do not share one code list"):
        passports([record(), other])


def test_no_visits_no_passports() -> None:
    assert passports([]) == ()


@pytest.mark.parametrize(
    ("name", "value", "words"),
    [
        ("colour", 1.0, "'colour' is no fact of an item"),
        ("weight", -1.0, "The weight of an item cannot be -1"),
        ("weight", math.nan, "cannot be nan"),
        ("hours ridden", math.inf, "cannot be inf"),
        ("washes", 2.5, "cannot have had 2.5 washes"),
    ],
)
def test_a_fact_that_cannot_be_is_refused(name: str, value: float, words: str) -> None:
    with pytest.raises(BadInput, match=words):
        require_fact(fact(name, value))


def test_every_fact_has_a_unit() -> None:
    assert set(UNITS) == set(Fact)
    for one in Fact:
        require_fact(fact(one, 3.0))
