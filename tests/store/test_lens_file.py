"""Lens files come back to the bit, old ones stay, and each thing wrong is named in one line."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from posewatch.core.lens_calibration import LensCalibration, LensSpread, Refusal, RejectedView
from posewatch.core.plane import Lens
from posewatch.errors import BadInput
from posewatch.store.lens_file import CONVENTION, parse_lens, read_lens, render_lens, save_lens

FOUND = LensCalibration(
    Lens(640, 480, 610.1, 608.3, 325.25, 236.125, (-0.22, 0.12, 1e-3, -8e-4, -0.03)),
    0.0571,
    LensSpread(0.25, 0.24, 0.3, 0.26),
    12,
    467,
    0.95,
    (-34.7, 30.3),
    (-30.1, 32.9),
    (RejectedView("a.jpg", Refusal.BLURRED, "edges 4.6 px wide"), RejectedView("b", Refusal.SAME)),
    "lens-a4",
    99.3,
)


def test_a_calibration_comes_back_to_the_bit() -> None:
    assert parse_lens(render_lens("left", FOUND), "here") == FOUND


def test_the_file_says_what_its_numbers_mean() -> None:
    document = json.loads(render_lens("left", FOUND))
    assert document["format"] == "posewatch lens"
    assert document["format_version"] == 1
    assert document["convention"] == CONVENTION
    assert "half a pixel" in CONVENTION
    assert document["camera"] == "left"
    assert document["fingerprint"] == FOUND.lens.fingerprint()
    assert document["created"][10] == "T"


def test_the_newest_is_read_and_earlier_ones_stay(tmp_path: Path) -> None:
    folder = tmp_path / "cameras" / "left cam"
    path, earlier = save_lens("left cam", FOUND, tmp_path)
    assert (path, earlier) == (folder / "lens.json", None)
    first = path.read_bytes()
    for number in (1, 2):
        newer = replace(FOUND, n_views=12 + number)
        assert save_lens("left cam", newer, tmp_path) == (path, folder / f"lens-v{number}.json")
        assert read_lens("left cam", tmp_path) == newer
    assert (folder / "lens-v1.json").read_bytes() == first
    assert read_lens(folder / "lens-v1.json", tmp_path) == FOUND
    assert sorted(p.name for p in folder.iterdir()) == ["lens-v1.json", "lens-v2.json", "lens.json"]


def test_a_damaged_newest_is_put_aside_too(tmp_path: Path) -> None:
    path, _ = save_lens("left", FOUND, tmp_path)
    path.write_bytes(b"\xff{")
    _, earlier = save_lens("left", FOUND, tmp_path)
    assert earlier is not None
    assert earlier.read_text(encoding="utf-8").endswith("{")
    assert read_lens("left", tmp_path) == FOUND


@pytest.mark.parametrize("name", ["", "../up", "a/b", "con", "dot.", "x" * 61])
def test_a_name_that_is_no_folder_is_refused(tmp_path: Path, name: str) -> None:
    with pytest.raises(BadInput, match="The camera cannot be called"):
        save_lens(name, FOUND, tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_a_camera_without_calibration_is_said(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match=r"The camera left is not calibrated.*camera calibrate"):
        read_lens("left", tmp_path)


def test_what_cannot_be_kept_leaves_nothing(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match=r"left cannot be kept: rms_px.*Calibrate it again"):
        save_lens("left", replace(FOUND, rms_px=float("nan")), tmp_path)
    assert list(tmp_path.rglob("*")) == []


def test_a_data_folder_that_cannot_be_written_is_said(tmp_path: Path) -> None:
    (tmp_path / "cameras").write_text("a file")
    with pytest.raises(BadInput, match=r"cannot be saved in .*data_folder in the settings"):
        save_lens("left", FOUND, tmp_path)


Damage = Callable[[dict[str, Any]], None]


def top(**changes: Any) -> Damage:
    def damage(document: dict[str, Any]) -> None:
        document.update(changes)

    return damage


def lens(**changes: Any) -> Damage:
    def damage(document: dict[str, Any]) -> None:
        document["lens"] |= changes

    return damage


@pytest.mark.parametrize(
    ("damage", "message"),
    [
        (top(format="something"), 'does not say "format": "posewatch lens"'),
        (top(format_version=9), "has lens format version 9; this program reads 1"),
        (top(extra=1), "extra: this key is not known"),
        (top(convention="from the middle"), "follow another convention"),
        (top(rms_px="0.1"), "rms_px"),
        (top(coverage=1.2), "coverage"),
        (lens(fx_px=-610.0), "lens.fx_px"),
        (lens(fx_px=611.0), "the fingerprint does not belong to this lens"),
        (lens(distortion=[0.1]), "lens.distortion"),
    ],
)
def test_each_thing_wrong_is_named(damage: Damage, message: str) -> None:
    document = json.loads(render_lens("left", FOUND))
    damage(document)
    with pytest.raises(BadInput, match="here") as refused:
        parse_lens(json.dumps(document), "here")
    assert message in str(refused.value)
    assert "\n" not in str(refused.value)


@pytest.mark.parametrize("text", ["", "{", "[1]", "[" * 100_000])
def test_no_json_no_lens(text: str) -> None:
    with pytest.raises(BadInput, match="here is not a lens file"):
        parse_lens(text, "here")
