"""Target files come back to the bit, and each thing wrong with one is named in one line."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from posewatch.core.envelope import Target
from posewatch.core.records import CONVENTION, Channel
from posewatch.errors import BadInput
from posewatch.store.target_file import parse_target, read_target_file, render_target

Damage = Callable[[dict[str, Any]], None]


def test_a_target_comes_back_to_the_bit(target: Target) -> None:
    assert parse_target(render_target(target), "here") == target


def test_the_file_says_what_its_numbers_mean(target: Target) -> None:
    document = json.loads(render_target(target))
    assert document["format"] == "posewatch target"
    assert document["format_version"] == 1
    assert document["convention"] == CONVENTION
    assert document["chain"]["fingerprint"] == target.chain.fingerprint()
    assert document["created"][10] == "T"


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
        (envelope(unit="mm"), "envelopes[1].unit"),
        (envelope(unit="thigh"), "the unit of knee is deg, not thigh"),
        (envelope(channel="ankle"), "envelopes[1].channel"),
        (envelope(channel="power"), "power is not a body channel"),
        (envelope(centre=[[1.0] * 12]), "a centre curve of knee has 12 coefficients"),
        (envelope(centre=[[]]), "a centre curve of knee has 0 coefficients"),
        (envelope(centre=[[1.0]] * 2), "the centre of knee has 1 curve(s), not 2"),
        (envelope(centre=[[math.nan] * 13]), "envelopes[1].centre[0][0]"),
        (envelope(colour="red"), "envelopes[1].colour: this key is not known"),
        (without("envelopes", 2), "the channel hip is missing"),
        (without("envelopes", 2, "tol"), "envelopes[2].tol: this key is missing"),
        (without("side"), "side: this key is missing"),
        (repeated, "the channel torso is there 2 times"),
        (other_chain, "the fingerprint does not belong to this chain"),
        (short_map, "angle_map has 5 coefficients"),
        (top(convention="radians"), "another convention"),
        (top(side="front"), "side: "),
        (top(n_strokes=-1), "n_strokes"),
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


@pytest.mark.parametrize("version", [0, 2, "1", None])
def test_another_format_version_is_refused_with_those_it_reads(
    target: Target, version: object
) -> None:
    document = json.loads(render_target(target)) | {"format_version": version}
    with pytest.raises(BadInput, match=f"format version {version}; this program reads 1"):
        parse_target(json.dumps(document), "here")


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
