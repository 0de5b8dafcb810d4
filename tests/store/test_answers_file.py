"""The answers file: what it may say, and what is refused before a visit begins."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from made_acts import HEADER, made_plan

from posewatch.demo import clips_folder
from posewatch.demo_visit import DESIGN
from posewatch.errors import BadInput
from posewatch.store.answers_file import (
    AnswersDocument,
    entered_text,
    read_answers,
    require_fit,
    template,
    write_answers,
)
from posewatch.trials.check_list import check_list
from posewatch.trials.plan import make_plan
from posewatch.trials.ratings import Region
from posewatch.trials.words import ConcealmentLevel

SHIPPED = json.loads((clips_folder() / "visit_answers.json").read_text(encoding="utf-8"))


def written(folder: Path, document: object) -> Path:
    path = folder / "a.json"
    path.write_text(json.dumps(document), encoding="utf-8")
    return path


def answers(folder: Path, **said: Any) -> AnswersDocument:
    head = {"format": "posewatch answers", "format_version": 1}
    return read_answers(written(folder, head | said))


def test_the_shipped_answers_answer_all_that_the_demo_asks() -> None:
    found = read_answers(clips_folder() / "visit_answers.json")
    plan = make_plan(DESIGN)
    require_fit(found, replace(HEADER, plan=plan), 1)
    lines = {line.key for line in check_list(DESIGN)}
    assert {*found.check_list, *found.left_out} == lines
    assert {one.number for one in found.mountings} == {one.number for one in plan.mountings}
    for one in found.mountings:
        assert {*one.trials} == {*DESIGN.hands}
        assert one.guess is not None
    # "Not asked" is there too, and apart from 0.
    said = [t.ratings.get(r) for m in found.mountings for t in m.trials.values() for r in Region]
    assert None in said
    assert any(one is not None and one.pain is None for one in said)
    assert any(one is not None and one.pain == 0 for one in said)


def test_a_template_asks_for_everything_and_answers_nothing(tmp_path: Path) -> None:
    plan = made_plan()
    write_answers(template(plan, 1), tmp_path / "t.json")
    found = read_answers(tmp_path / "t.json")
    assert found == template(plan, 1)
    require_fit(found, HEADER, 1)
    assert {*found.left_out} == {line.key for line in check_list(plan.design)}
    for mounting, planned in zip(found.mountings, plan.visits[0].mountings, strict=True):
        assert mounting.number == planned.number
        assert {*mounting.trials} == {*plan.design.hands}
        for trial in mounting.trials.values():
            assert {*trial.ratings} == {*Region}
            assert all(one.comfort is one.pain is None for one in trial.ratings.values())
    text = (tmp_path / "t.json").read_text(encoding="utf-8")
    assert text.startswith('{\n  "format": "posewatch answers",\n  "format_version": 1,\n')
    assert '"front": {"comfort": null, "pain": null},' in text
    with pytest.raises(BadInput, match="exists already"):
        write_answers(template(plan, 1), tmp_path / "t.json")


def test_what_is_entered_as_the_record_has_it() -> None:
    said: list[tuple[Any, str]] = [(True, ""), (21.5, "21.5"), (12.0, "12"), ("30 mm", "30 mm")]
    assert [entered_text(value) for value, _ in said] == [text for _, text in said]


def at(*path: Any, value: Any) -> Callable[[dict[str, Any]], None]:
    def change(document: Any) -> None:
        for step in path[:-1]:
            document = document[step]
        document[path[-1]] = value

    return change


@pytest.mark.parametrize(
    ("damage", "said"),
    [
        (at("colour", value="blue"), "colour: this key is not known"),
        (at("mountings", 0, "mood", value=1), "mountings[0].mood: this key is not known"),
        (at("mountings", 0, "number", value=0), "mountings[0].number: "),
        (at("mountings", 0, "guess", "guess", value="Ostrel"), "mountings[0].guess.guess: "),
        (at("mountings", 0, "guess", "confidence", value=11), "mountings[0].guess.confidence: "),
        (at("mountings", 0, "trials", "hoods", "ratings", "knee", value={}), "ratings.knee"),
        (
            at("mountings", 0, "trials", "hoods", "ratings", "front", value={"pain": 11}),
            "front.pain: ",
        ),
        (at("left_out", "mat_zero", value=""), "left_out.mat_zero: "),
        (at("check_list", "pad_square", value=False), "check_list.pad_square"),
        (at("passed_over", value={"mounting": "x"}), "passed_over.mounting"),
        (at("hardness", 0, "readings", value=["31"]), "hardness[0].readings[0]: "),
        (at("facts", 0, "fact", value="colour"), "facts[0].fact: "),
        (at("agreed", value="yes"), "agreed: "),
        (at("format_version", value=2), "this program reads 1"),
        (at("format", value="posewatch plan"), "is not a visit answers file"),
    ],
)
def test_what_cannot_be_said_is_named(
    tmp_path: Path, damage: Callable[[dict[str, Any]], None], said: str
) -> None:
    document = json.loads(json.dumps(SHIPPED))
    damage(document)
    with pytest.raises(BadInput) as raised:
        read_answers(written(tmp_path, document))
    assert said in str(raised.value)
    assert "\n" not in str(raised.value)


@pytest.mark.parametrize("text", ["", "{", "[]", "[" * 100_000])
def test_what_is_no_answers_file(tmp_path: Path, text: str) -> None:
    path = tmp_path / "a.json"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(BadInput, match="posewatch trial answers"):
        read_answers(path)
    with pytest.raises(BadInput, match="There is no visit answers file"):
        read_answers(tmp_path / "gone")


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ({"check_list": {"luck": True}}, "The check list has no line 'luck'."),
        ({"left_out": {"luck": "none"}}, "The check list has no line 'luck'."),
        ({"check_list": {"room_temperature": True}}, "'' is no number"),
        ({"check_list": {"room_temperature": "warm"}}, "'warm' is no number"),
        (
            {"check_list": {"pad_square": True}, "left_out": {"pad_square": "x"}},
            "both enter and leave out 'pad_square'",
        ),
        ({"mountings": [{"number": 9}]}, "Mounting 9 is answered and visit 1 has no such one."),
        ({"mountings": [{"number": 1}, {"number": 1}]}, "Mounting 1 is answered twice."),
        ({"mountings": [{"number": 1, "trials": {"aero": {}}}]}, "answered for aero, which is"),
        (
            {"mountings": [{"number": 1, "guess": {"guess": "C", "confidence": 1}}]},
            "The rider's card has no C.",
        ),
        ({"facts": [{"item": "item 9", "fact": "weight", "value": 1}]}, "No item is called"),
        ({"facts": [{"item": "K4", "fact": "weight", "value": -1}]}, "cannot be -1"),
        (
            {
                "hardness": [
                    {"item": "K4", "scale": "OO", "zone": "rear", "dwell_s": 3, "readings": []}
                ]
            },
            "There is no hardness reading.",
        ),
    ],
)
def test_answers_to_what_is_not_asked_are_refused(
    tmp_path: Path, said: dict[str, Any], told: str
) -> None:
    with pytest.raises(BadInput) as raised:
        require_fit(answers(tmp_path, **said), HEADER, 1)
    assert told in str(raised.value)


def test_no_guess_is_answered_where_nothing_is_concealed(tmp_path: Path) -> None:
    open_plan = made_plan(concealment=ConcealmentLevel.READINGS_HIDDEN)
    said = answers(tmp_path, mountings=[{"number": 1, "guess": {"guess": None, "confidence": 0}}])
    require_fit(said, HEADER, 1)
    with pytest.raises(BadInput, match="The items are not concealed"):
        require_fit(said, replace(HEADER, plan=open_plan), 1)
