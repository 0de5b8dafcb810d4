"""Plan files come back to the bit, and each thing wrong with one is named in one line."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from made_plans import designs, made_design

from posewatch.errors import BadInput
from posewatch.store.plan_file import parse_plan, read_plan, render_plan, write_plan
from posewatch.trials.plan import Design, make_plan
from posewatch.trials.words import ComparisonKind, SaddleMode

Damage = Callable[[dict[str, Any]], object]
PLAN = make_plan(made_design())


@settings(max_examples=40, derandomize=True, deadline=None)
@given(designs())
def test_a_plan_comes_back_to_the_bit(design: Design) -> None:
    plan = make_plan(design)
    assert parse_plan(render_plan(plan), "here") == plan


def test_a_plan_of_saddles_comes_back_too(tmp_path: Path) -> None:
    plan = make_plan(made_design(kind=ComparisonKind.SADDLE, saddle_mode=SaddleMode.RESET))
    kept = write_plan(plan, tmp_path / "p.json")
    assert read_plan(tmp_path / "p.json") == kept
    assert datetime.fromisoformat(kept.created).tzinfo is not None
    assert replace(kept, created="") == plan


def test_nothing_is_overwritten_and_nothing_half_written(tmp_path: Path) -> None:
    path = tmp_path / "p.json"
    path.write_text("mine", encoding="utf-8")
    with pytest.raises(BadInput, match="exists already and was left as it is"):
        write_plan(PLAN, path)
    assert path.read_text(encoding="utf-8") == "mine"
    with pytest.raises(BadInput, match="cannot be written"):
        write_plan(PLAN, tmp_path / "none" / "p.json")
    assert list(tmp_path.iterdir()) == [path]


def test_what_cannot_be_kept_is_refused() -> None:
    bad = replace(PLAN, design=replace(PLAN.design, warm_up_s=float("nan")))
    with pytest.raises(BadInput, match=r"The plan cannot be kept: design\.warm_up_s"):
        render_plan(bad)


def test_the_file_says_what_it_is_and_names_nothing() -> None:
    document = json.loads(render_plan(PLAN))
    assert (document["format"], document["format_version"]) == ("posewatch plan", 1)
    mounting = document["visits"][0]["mountings"][0]
    assert set(mounting) == {"number", "slot", "block", "trials"}
    assert set(document) == {"format", "format_version", "created", "design", "visits"}


def top(**changes: Any) -> Damage:
    return lambda document: document.update(changes)


def design(**changes: Any) -> Damage:
    return lambda document: document["design"].update(changes)


def mounting(**changes: Any) -> Damage:
    return lambda document: document["visits"][0]["mountings"][2].update(changes)


def swapped(document: dict[str, Any]) -> None:
    mountings = document["visits"][0]["mountings"]
    mountings[1], mountings[2] = mountings[2], mountings[1]


def without(*keys: Any) -> Damage:
    def damage(document: dict[str, Any]) -> None:
        part: Any = document
        for key in keys[:-1]:
            part = part[key]
        del part[keys[-1]]

    return damage


ALTERED = "its visits are not those that its design and seed 1 give; it was altered"


@pytest.mark.parametrize(
    ("damage", "said"),
    [
        (top(note="x"), "note: this key is not known"),
        (design(item_names=["a", "b"]), "design.item_names: this key is not known"),
        (mounting(name="a"), "visits[0].mountings[2].name: this key is not known"),
        (without("design", "seed"), "design.seed: this key is missing"),
        (design(seed="1"), "design.seed: input should be a valid integer, found '1'"),
        (design(n_items=True), "design.n_items: input should be a valid integer"),
        (design(kind="gloves"), "design.kind: input should be"),
        (design(warm_up_s=-5.0), "The warm-up in seconds cannot be -5."),
        (design(n_items=12), "The number of items cannot be 12."),
        (design(saddle_mode="swap as it comes"), "is said of saddles, and shorts is compared"),
        (design(seed=2), "seed 2 give; it was altered"),
        (design(familiarisation=False), ALTERED),
        (mounting(slot=0), ALTERED),
        (mounting(block=2), ALTERED),
        (swapped, ALTERED),
        (without("visits", 0, "mountings", 6), ALTERED),
        (top(created="yesterday"), "created: 'yesterday' is no date and time with a zone"),
        (top(format_version=2), "plan format version 2; this program reads 1"),
        (top(format="posewatch target"), 'it does not say "format": "posewatch plan"'),
    ],
)
def test_what_is_wrong_is_named(damage: Damage, said: str) -> None:
    document = json.loads(render_plan(PLAN))
    damage(document)
    with pytest.raises(BadInput) as raised:
        parse_plan(json.dumps(document), "p.json")
    assert said in str(raised.value)
    assert "p.json" in str(raised.value)
    assert "\n" not in str(raised.value)


@pytest.mark.parametrize("text", ["", "{", "[]", "null", '"plan"'])
def test_other_texts_are_no_plan(text: str) -> None:
    with pytest.raises(BadInput, match="is not a plan file"):
        parse_plan(text, "p.json")
