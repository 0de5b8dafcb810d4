"""Target files come back to the bit, and each thing wrong with one is named in one line."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from posewatch.core.envelope import LengthUnit, Target, Unit
from posewatch.core.measuring_chain import ViewedFrom
from posewatch.core.records import CONVENTION, Channel
from posewatch.errors import BadInput
from posewatch.store.target_document import SCHEMA_FILE, schema_text
from posewatch.store.target_file import parse_target, read_target_file, render_target

Damage = Callable[[dict[str, Any]], None]


def test_a_target_comes_back_to_the_bit(target: Target) -> None:
    assert parse_target(render_target(target), "here") == target


def test_a_calibrated_target_of_one_sit_comes_back_too(target: Target) -> None:
    calibrated = in_mm(target)
    one_sit = tuple(replace(e, resit_sd=None) for e in calibrated.envelopes)
    kept = replace(
        calibrated, envelopes=one_sit, sits=(41,), created="2026-03-01T10:11:12+01:00", version=4
    )
    assert parse_target(render_target(kept), "here") == kept


def in_mm(target: Target) -> Target:
    """The target as a calibrated camera would have captured it."""
    envelopes = (e if e.unit is Unit.DEG else replace(e, unit=Unit.MM) for e in target.envelopes)
    chain = replace(target.chain, view=ViewedFrom("ab" * 8, 1.25, -0.5, 3000.5))
    return replace(target, envelopes=tuple(envelopes), chain=chain, length_unit=LengthUnit.MM)


def test_the_file_says_what_its_numbers_mean(target: Target) -> None:
    document = json.loads(render_target(target))
    assert document["format"] == "posewatch target"
    assert document["format_version"] == 2
    assert document["convention"] == CONVENTION
    assert document["chain"]["fingerprint"] == target.chain.fingerprint()


def test_channels_are_read_in_the_usual_order(target: Target) -> None:
    document = json.loads(render_target(target))
    document["envelopes"].reverse()
    assert parse_target(json.dumps(document), "here") == target


def test_a_byte_order_mark_is_no_harm(target: Target, tmp_path: Path) -> None:
    path = tmp_path / "t.json"
    path.write_text("\ufeff" + render_target(target), encoding="utf-8")
    assert read_target_file(path) == target


def envelope(**changes: Any) -> Damage:
    def damage(document: dict[str, Any]) -> None:
        document["envelopes"][1] |= changes

    return damage


def place(**changes: Any) -> Damage:
    return lambda document: document["envelopes"][3].update(changes)


def top(**changes: Any) -> Damage:
    def damage(document: dict[str, Any]) -> None:
        document.update(changes)

    return damage


def without(*keys: Any) -> Damage:
    def damage(document: dict[str, Any]) -> None:
        part: Any = document
        for key in keys[:-1]:
            part = part[key]
        del part[keys[-1]]

    return damage


def repeated(document: dict[str, Any]) -> None:
    document["envelopes"].append(document["envelopes"][0])


def other_chain(document: dict[str, Any]) -> None:
    document["chain"]["model_name"] = "lite"


def short_leg(document: dict[str, Any]) -> None:
    document["leg"]["curves"][2].pop()


def all_advisory(document: dict[str, Any]) -> None:
    for one in document["envelopes"]:
        one["required"] = False


def short_map(document: dict[str, Any]) -> None:
    document["crank"]["angle_map"].pop()


@pytest.mark.parametrize(
    ("damage", "said"),
    [
        (envelope(tol=0), "envelopes[1].tol: input should be greater than 0, found 0"),
        (envelope(tol=-3.0), "envelopes[1].tol: input should be greater than 0, found -3.0"),
        (envelope(tol=math.nan), "envelopes[1].tol"),
        (envelope(tol="4"), "envelopes[1].tol: input should be a valid number, found '4'"),
        (envelope(tol=True), "envelopes[1].tol: input should be a valid number, found True"),
        (envelope(stroke_sd=math.inf), "envelopes[1].stroke_sd: input should be a finite number"),
        (envelope(shape_limit=-0.1), "envelopes[1].shape_limit"),
        (envelope(unit="inch"), "envelopes[1].unit: input should be 'deg', 'mm' or 'thigh'"),
        (envelope(unit="thigh"), "envelopes[1].unit: the unit of knee is deg, not thigh"),
        (place(unit="deg"), "envelopes[3].unit: the unit of sitting place is mm or thigh, not deg"),
        (place(unit="mm"), "length_unit: sitting place in mm does not fit px"),
        (envelope(stroke_lag1=1.5), "envelopes[1].stroke_lag1: input should be less than or equal"),
        (envelope(resit_sd=math.nan), "envelopes[1].resit_sd: input should be a finite number"),
        (envelope(channel="ankle"), "envelopes[1].channel"),
        (envelope(channel="power"), "envelopes[1].channel: power is not a body channel"),
        (envelope(centre=[[1.0] * 12]), "envelopes[1].centre: a centre curve has 12 coefficients"),
        (envelope(centre=[[]]), "envelopes[1].centre: a centre curve has 0 coefficients"),
        (envelope(centre=[[1.0]] * 2), "envelopes[1].centre: the centre of knee has 1 curve(s)"),
        (envelope(centre=[[1.0] * 11]), "envelopes: the centre curves have different numbers"),
        (envelope(centre=[[math.nan] * 13]), "envelopes[1].centre[0][0]"),
        (envelope(colour="red"), "envelopes[1].colour: this key is not known"),
        (without("envelopes", 2), "envelopes: the channel hip is missing"),
        (all_advisory, "envelopes: no channel is required"),
        (without("envelopes", 2, "tol"), "envelopes[2].tol: this key is missing"),
        (without("side"), "side: this key is missing"),
        (repeated, "envelopes: the channel torso is there 2 times"),
        (other_chain, "chain: the fingerprint does not belong to this chain"),
        (short_map, "crank.angle_map: angle_map has 5 coefficients"),
        (short_leg, "leg.curves: curves must be 6 lists of 13 coefficients"),
        (top(convention="radians"), "convention: its angles follow another convention"),
        (top(length_unit="mm"), "length_unit: it is mm where the chain is calibrated"),
        (top(sits=[]), "sits: "),
        (top(sits=[20, 0]), "sits[1]: input should be greater than or equal to 1"),
        (top(created="today"), "created: 'today' is no date and time with a zone"),
        (top(created="2026-03-01T10:11:12"), "created: '2026-03-01T10:11:12' is no date"),
        (top(side="front"), "side: "),
        (top(n_dropped=-1), "n_dropped"),
        (top(n_strokes=40), "n_strokes: this key is not known"),
        (top(cadence_rpm=None), "cadence_rpm"),
        (top(colour="red"), "colour: this key is not known"),
    ],
)
def test_what_is_wrong_is_named_in_one_line(target: Target, damage: Damage, said: str) -> None:
    document = json.loads(render_target(target))
    damage(document)
    with pytest.raises(BadInput) as caught:
        parse_target(json.dumps(document), "shelf/v1.json")
    message = str(caught.value)
    assert said in message
    assert message.startswith("shelf/v1.json cannot be used")
    assert "\n" not in message


@pytest.mark.parametrize(
    ("version", "advice"),
    [
        (3, "Use the newer program that wrote it."),
        (0, "Capture the target again."),
        ("2", "Capture the target again."),
        (True, "Capture the target again."),
        (2.0, "Capture the target again."),
        (None, "Capture the target again."),
    ],
)
def test_another_format_version_is_refused_with_those_it_reads(
    target: Target, version: object, advice: str
) -> None:
    document = json.loads(render_target(target)) | {"format_version": version}
    with pytest.raises(BadInput) as caught:
        parse_target(json.dumps(document), "here")
    said = f"here has target format version {json.dumps(version)}; this program reads 2."
    assert str(caught.value) == f"{said} {advice}"


def test_a_file_of_the_first_version_is_told_plainly(target: Target) -> None:
    document = json.loads(render_target(target)) | {"format_version": 1}
    with pytest.raises(
        BadInput, match=r"version 1, which knew neither .* Capture the target again"
    ):
        parse_target(json.dumps(document), "here")


# --- the published schema -----------------------------------------------------------------------


def test_the_published_schema_is_up_to_date() -> None:
    assert SCHEMA_FILE.read_text(encoding="utf-8") == schema_text()


def test_the_schema_names_every_key_of_a_file(target: Target) -> None:
    schema = json.loads(schema_text())
    document = json.loads(render_target(in_mm(target)))

    def compare(value: Any, described: dict[str, Any]) -> None:
        if "anyOf" in described:
            described = described["anyOf"][0]
        if "$ref" in described:
            described = schema["$defs"][described["$ref"].removeprefix("#/$defs/")]
        if isinstance(value, dict):
            assert set(value) == set(described["properties"]) == set(described["required"])
            assert described["additionalProperties"] is False
            for key, part in value.items():
                compare(part, described["properties"][key])
        elif isinstance(value, list):
            compare(value[0], described["items"])
        elif "enum" in described:
            assert value in described["enum"]
        else:
            assert described.get("type", "") in ("string", "number", "integer", "boolean")

    compare(document, schema)


@pytest.mark.parametrize("text", ["", "{", "[" * 100_000, "[]", "{}", '{"format": "x"}', "null"])
def test_what_is_no_target_file_is_refused(text: str) -> None:
    with pytest.raises(BadInput, match=r"^here is not a target file: it ") as caught:
        parse_target(text, "here")
    assert "\n" not in str(caught.value)


def test_a_missing_file_is_named(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match=r"There is no target file .*gone\.json"):
        read_target_file(tmp_path / "gone.json")


def test_a_folder_or_bytes_are_no_target_file(tmp_path: Path) -> None:
    path = tmp_path / "t.json"
    path.write_bytes(b"\xff\xfe\x00")
    for wrong in (path, tmp_path):
        with pytest.raises(BadInput, match="cannot be read as a target file"):
            read_target_file(wrong)


def test_what_could_not_be_read_again_is_not_written(target: Target) -> None:
    with pytest.raises(BadInput, match=r"cannot be kept: envelopes\[1\]\.tol"):
        render_target(target.with_tolerance(Channel.KNEE, math.nan))
    with pytest.raises(BadInput, match="the channel hand place is missing"):
        render_target(replace(target, envelopes=target.envelopes[:-1]))
