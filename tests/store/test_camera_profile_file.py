"""Camera profiles come back to the bit, and each thing wrong with one is named in one line."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from made_profiles import saved

from posewatch.core.plane import JointDepths, Lens
from posewatch.core.records import Side
from posewatch.errors import BadInput
from posewatch.store.camera_profile_file import parse_profile, read_profile_file, render_profile

Damage = Callable[[dict[str, Any]], None]


@pytest.mark.parametrize("side", list(Side))
@pytest.mark.parametrize("wheelbase", [None, 1000.5])
def test_a_profile_comes_back_to_the_bit(side: Side, wheelbase: float | None) -> None:
    one = saved(side)
    one = replace(one, setup=replace(one.setup, known_wheelbase_mm=wheelbase))
    back = parse_profile(render_profile(one), "here")
    assert back == one
    assert back.profile.fingerprint() == one.profile.fingerprint()


def test_whole_numbers_are_no_harm() -> None:
    lens = Lens(640, 480, 860, 860, 320, 240)
    one = saved()
    back = parse_profile(
        render_profile(replace(one, profile=replace(one.profile, lens=lens))), "here"
    )
    assert back.profile.lens == lens


def test_the_file_says_what_it_is() -> None:
    document = json.loads(render_profile(saved()))
    assert document["format"] == "posewatch camera profile"
    assert document["format_version"] == 1
    assert document["setup"]["method"] == "boards"
    assert document["fingerprint"] == saved().profile.fingerprint()


def part(name: str, **changes: Any) -> Damage:
    def damage(document: dict[str, Any]) -> None:
        document[name] |= changes

    return damage


def top(**changes: Any) -> Damage:
    def damage(document: dict[str, Any]) -> None:
        document.update(changes)

    return damage


def without(*keys: str) -> Damage:
    def damage(document: dict[str, Any]) -> None:
        inner: Any = document
        for key in keys[:-1]:
            inner = inner[key]
        del inner[keys[-1]]

    return damage


def mirrored(document: dict[str, Any]) -> None:
    rotation = document["view"]["rotation"]
    upside_down = [-value for value in rotation[3:6]]
    document["view"]["rotation"] = rotation[:3] + upside_down + rotation[6:]


def turned_away(document: dict[str, Any]) -> None:
    rotation = document["view"]["rotation"]
    document["view"]["rotation"] = rotation[:6] + [-value for value in rotation[6:]]


@pytest.mark.parametrize(
    ("damage", "said"),
    [
        (part("lens", fx_px=0.0), "lens.fx_px: input should be greater than 0, found 0"),
        (part("lens", fx_px="860"), "lens.fx_px: input should be a valid number"),
        (part("lens", width_px=640.5), "lens.width_px"),
        (part("lens", distortion=[0.0] * 4), "lens.distortion"),
        (part("lens", fx_px=861.0), "the fingerprint does not belong to these numbers"),
        (part("view", position_mm=[0.0, 0.0, -3000.0]), "view.position_mm[2]"),
        (part("view", position_mm=[math.nan, 0.0, 3000.0]), "view.position_mm[0]"),
        (part("view", rotation=[1.0] * 9), "view: the rows of rotation are not of unit length"),
        (mirrored, "view: rotation is a mirror image of one on the"),
        (turned_away, "view: rotation turns the camera away from the bike"),
        (part("depths", hip=90.0), "the fingerprint does not belong to these numbers"),
        (part("depths", elbow=None), "depths.elbow"),
        (part("setup", method="guessed"), "setup.method"),
        (part("setup", rms_px=-0.1), "setup.rms_px"),
        (part("setup", known_wheelbase_mm=0.0), "setup.known_wheelbase_mm"),
        (part("setup", front_axle_mm=[1.0]), "setup.front_axle_mm"),
        (without("setup", "spread", "yaw_deg"), "setup.spread.yaw_deg: this key is missing"),
        (without("bike"), "bike: this key is missing"),
        (top(colour="red"), "colour: this key is not known"),
        (top(version=-1), "version"),
        (top(created="yesterday"), "created: 'yesterday' is no date and time with a zone"),
        (top(created="2025-03-01T10:11:12"), "created: "),
    ],
)
def test_what_is_wrong_is_named_in_one_line(damage: Damage, said: str) -> None:
    document = json.loads(render_profile(saved()))
    damage(document)
    with pytest.raises(BadInput) as caught:
        parse_profile(json.dumps(document), "setup-v1.json")
    message = str(caught.value)
    assert said in message
    assert message.startswith("setup-v1.json cannot be used: ")
    assert "\n" not in message


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "it is not JSON"),
        ("[" * 100_000, "it is not JSON"),
        ("[]", "is not a camera profile"),
        ('{"format": "posewatch target"}', "is not a camera profile"),
        ('{"format": "posewatch camera profile", "format_version": 2}', "version 2; this program"),
    ],
)
def test_what_is_no_profile_is_refused(text: str, said: str) -> None:
    with pytest.raises(BadInput, match=said):
        parse_profile(text, "here")


def test_a_joint_behind_the_camera_is_refused() -> None:
    one = saved()
    far = replace(one, profile=replace(one.profile, depths=JointDepths(toe=4000.0)))
    with pytest.raises(BadInput, match="the toe at 4000 mm would be behind the camera"):
        render_profile(far)


def test_a_file_that_is_no_text(tmp_path: Path) -> None:
    path = tmp_path / "x.json"
    path.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(BadInput, match="cannot be read as a camera profile"):
        read_profile_file(path)
