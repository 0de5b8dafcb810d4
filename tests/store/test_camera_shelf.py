"""Camera profiles on their shelf: every version kept, the newest used, nothing overwritten."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest
from made_profiles import saved

from posewatch.errors import BadInput
from posewatch.store.camera_shelf import (
    background_path,
    cameras_folder,
    find_profile,
    list_profiles,
    read_profile,
    save_profile,
)


def test_nothing_is_written_of_what_no_profile_may_hold(tmp_path: Path) -> None:
    one = saved()
    with pytest.raises(BadInput, match=r"rms_px: input should be a finite number"):
        save_profile(replace(one, setup=replace(one.setup, rms_px=math.nan)), tmp_path)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("name", ["", "a/b", "..", "con", "x" * 61])
def test_a_name_that_is_no_folder_name_is_refused(name: str, tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="The camera cannot be called"):
        save_profile(saved(name=name), tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_every_set_up_is_kept_and_the_newest_is_used(tmp_path: Path) -> None:
    first, path = save_profile(saved(note="first"), tmp_path)
    assert path == tmp_path / "cameras" / "side 1" / "setup-v1.json"
    before = path.read_bytes()
    for _ in range(10):
        last, last_path = save_profile(saved(note="again"), tmp_path)
    assert (first.version, last.version) == (1, 11)
    assert path.read_bytes() == before
    assert read_profile("side 1", tmp_path) == last
    assert read_profile("side 1/v1", tmp_path) == first
    assert read_profile(last_path, tmp_path) == last
    assert [version for _, version, _ in list_profiles(tmp_path)] == list(range(1, 12))
    assert find_profile("side 1", tmp_path) == last_path


def test_other_files_in_a_cameras_folder_are_left_alone(tmp_path: Path) -> None:
    folder = cameras_folder(tmp_path) / "side 1"
    folder.mkdir(parents=True)
    for name in ("lens.json", "setup-v9.background.npz", "setup-v0.json", "setup-vx.json"):
        (folder / name).write_text("mine", encoding="utf-8")
    kept, path = save_profile(saved(), tmp_path)
    assert kept.version == 1
    assert background_path(path) == folder / "setup-v1.background.npz"
    assert (folder / "lens.json").read_text(encoding="utf-8") == "mine"


@pytest.mark.parametrize("name", ["other", "side 1/v2", "side 1/x", "side 1/v1/x", "nothing.json"])
def test_a_profile_that_is_not_there(name: str, tmp_path: Path) -> None:
    save_profile(saved(), tmp_path)
    with pytest.raises(BadInput, match="There is no camera") as caught:
        read_profile(name, tmp_path)
    assert "camera level" in caught.value.advice


def test_a_data_folder_that_cannot_be_written(tmp_path: Path) -> None:
    (tmp_path / "cameras").write_text("a file", encoding="utf-8")
    with pytest.raises(BadInput, match="cannot be saved"):
        save_profile(saved(), tmp_path)
