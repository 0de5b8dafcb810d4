"""Bridge files come back to the bit, and each thing wrong with one is named in one line."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from posewatch.core.bridge import BRIDGED, Bridge, Offset
from posewatch.core.envelope import ANGLE_CHANNELS, Unit
from posewatch.errors import BadInput
from posewatch.store.bridge_file import parse_bridge, read_bridge, render_bridge, write_bridge


@pytest.fixture
def bridge() -> Bridge:
    offsets = tuple(
        Offset(
            channel, Unit.DEG if channel in ANGLE_CHANNELS else Unit.MM, k / 7, k / 3, 0.1, k / 11
        )
        for k, channel in enumerate(BRIDGED)
    )
    return Bridge(
        "Zoë 2/road/hoods/v3",
        "ab" * 8,
        "cd" * 8,
        "saddle B, 2nd",
        "long tights",
        offsets,
        20,
        "2026-03-01T10:11:12+01:00",
    )


def test_a_bridge_comes_back_to_the_bit(bridge: Bridge, tmp_path: Path) -> None:
    path = tmp_path / "b.json"
    write_bridge(bridge, path)
    assert read_bridge(path) == bridge
    document = json.loads(path.read_text(encoding="utf-8"))
    assert (document["format"], document["format_version"]) == ("posewatch bridge", 1)


def test_nothing_is_written_over(bridge: Bridge, tmp_path: Path) -> None:
    path = tmp_path / "b.json"
    path.write_text("mine", encoding="utf-8")
    with pytest.raises(BadInput, match="exists already"):
        write_bridge(bridge, path)
    with pytest.raises(BadInput, match="cannot be written"):
        write_bridge(bridge, tmp_path / "no folder" / "b.json")
    broken = (replace(bridge.offsets[0], mean=math.nan), *bridge.offsets[1:])
    with pytest.raises(BadInput, match=r"cannot be kept: offsets\[0\]\.mean"):
        write_bridge(replace(bridge, offsets=broken), tmp_path / "c.json")
    assert [p.name for p in tmp_path.iterdir()] == ["b.json"]
    assert path.read_text(encoding="utf-8") == "mine"


def offset(**changes: Any) -> Callable[[dict[str, Any]], None]:
    return lambda document: document["offsets"][3].update(changes)


def top(**changes: Any) -> Callable[[dict[str, Any]], None]:
    return lambda document: document.update(changes)


@pytest.mark.parametrize(
    ("damage", "said"),
    [
        (offset(mean=math.nan), "offsets[3].mean: input should be a finite number"),
        (offset(mean="1"), "offsets[3].mean: input should be a valid number, found '1'"),
        (offset(stroke_lag1=1.5), "offsets[3].stroke_lag1"),
        (offset(standard_error=-1), "offsets[3].standard_error"),
        (offset(unit="deg"), "offsets[3].unit: deg is no unit of sitting place"),
        (offset(unit="thigh"), "offsets: places are in two units"),
        (offset(channel="hand place"), "offsets: they are not those of torso, knee"),
        (offset(colour="red"), "offsets[3].colour: this key is not known"),
        (top(n_strokes=0), "n_strokes"),
        (top(created="yesterday"), "created: 'yesterday' is no date and time with a zone"),
        (top(colour="red"), "colour: this key is not known"),
        (lambda document: document.pop("position"), "position: this key is missing"),
    ],
)
def test_what_is_wrong_is_named_in_one_line(
    bridge: Bridge, damage: Callable[[dict[str, Any]], None], said: str
) -> None:
    document = json.loads(render_bridge(bridge))
    damage(document)
    with pytest.raises(BadInput) as caught:
        parse_bridge(json.dumps(document), "b.json")
    assert str(caught.value).startswith(f"b.json cannot be used: {said}")
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("version", [0, 2, "1", True, None])
def test_another_format_version_is_refused(bridge: Bridge, version: object) -> None:
    document = json.loads(render_bridge(bridge)) | {"format_version": version}
    with pytest.raises(BadInput, match="this program reads 1"):
        parse_bridge(json.dumps(document), "here")


@pytest.mark.parametrize("text", ["", "{", "[" * 100_000, "{}", '{"format": "posewatch target"}'])
def test_what_is_no_bridge_file_is_refused(text: str) -> None:
    with pytest.raises(BadInput, match=r"^here is not a bridge file: it "):
        parse_bridge(text, "here")


def test_a_file_that_cannot_be_read_is_named(tmp_path: Path) -> None:
    (tmp_path / "bytes").write_bytes(b"\xff\xfe\x00")
    for name, said in (("gone", "no bridge file"), ("bytes", "cannot be read"), ("", "cannot be")):
        with pytest.raises(BadInput, match=said):
            read_bridge(tmp_path / name)
