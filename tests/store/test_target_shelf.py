"""Targets are found by name or path, and no version is ever written over."""

from __future__ import annotations

import errno
import math
import os
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest

from posewatch.core.envelope import Target
from posewatch.core.records import Channel
from posewatch.errors import BadInput
from posewatch.store import target_shelf
from posewatch.store.atomic_file import write_new
from posewatch.store.target_file import render_target
from posewatch.store.target_shelf import copy_target, list_targets, read_target, save_target


def files(folder: Path) -> list[str]:
    return sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*"))


def test_each_saving_is_a_version_of_its_own(target: Target, tmp_path: Path) -> None:
    first, path = save_target(target, tmp_path)
    assert path == tmp_path / "targets" / "Zoë 2" / "road-1" / "hoods" / "v1.json"
    assert first == replace(target, version=1, created=first.created)
    assert datetime.fromisoformat(first.created).tzinfo is not None
    before = path.read_bytes()
    second, _ = save_target(first.with_tolerance(Channel.KNEE, 6.0), tmp_path)
    assert second.version == 2
    assert path.read_bytes() == before
    assert read_target("Zoë 2/road-1/hoods", tmp_path) == second
    for name in ("Zoë 2/road-1/hoods/v1", "Zoë 2/road-1/hoods/v1.json", path, str(path)):
        assert read_target(name, tmp_path) == first


def test_a_time_of_creation_is_kept(target: Target, tmp_path: Path) -> None:
    before = replace(target, created="2026-03-01T10:11:12+01:00", version=7)
    kept, path = save_target(before, tmp_path)
    assert kept == replace(before, version=1)
    assert read_target(path, tmp_path) == kept


def test_versions_go_by_number_and_gaps_stay(target: Target, tmp_path: Path) -> None:
    folder = save_target(target, tmp_path)[1].parent
    for number in (9, 10):
        (folder / f"v{number}.json").write_text(render_target(target), encoding="utf-8")
    (folder / "v99.json.bak").touch()
    (folder / "very old.json").touch()
    assert save_target(target, tmp_path)[0].version == 11
    assert [saved.version for saved in list_targets(tmp_path)] == [1, 9, 10, 11]
    assert list_targets(tmp_path)[-1].name == "Zoë 2/road-1/hoods/v11"


def test_a_number_taken_meanwhile_is_passed_over(
    target: Target, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def overtaken(path: Path, text: str) -> None:
        if path.name == "v1.json":
            path.write_text("theirs", encoding="utf-8")
        write_new(path, text)

    monkeypatch.setattr(target_shelf, "write_new", overtaken)
    kept, path = save_target(target, tmp_path)
    assert (kept.version, path.name) == (2, "v2.json")
    assert (path.parent / "v1.json").read_text(encoding="utf-8") == "theirs"
    assert files(path.parent) == ["v1.json", "v2.json"]


@pytest.mark.parametrize(
    "name",
    ["", ".", "..", "a/b", "a\\b", "a:b", "end.", "end ", " a", "-a", "CON", "nul.txt", "x" * 61]
    + ["a\n", "a\0", "a*"],
)
@pytest.mark.parametrize("which", ["rider", "bike", "hands"])
def test_names_that_cannot_be_folders_are_refused(
    target: Target, tmp_path: Path, name: str, which: str
) -> None:
    with pytest.raises(BadInput, match=f"The {which} cannot be called"):
        save_target(replace(target, **{which: name}), tmp_path)  # type: ignore[arg-type]
    assert files(tmp_path) == []


def test_a_failure_while_writing_leaves_no_file(
    target: Target, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    path = save_target(target, tmp_path)[1]
    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(BadInput, match=r"cannot be saved in .*No space left"):
        save_target(target, tmp_path)
    with pytest.raises(BadInput, match="cannot be written"):
        copy_target(target, path.parent / "copy.json")
    assert files(path.parent) == ["v1.json"]


def test_a_target_that_cannot_be_kept_leaves_no_folder(target: Target, tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="cannot be kept"):
        save_target(target.with_tolerance(Channel.HIP, math.inf), tmp_path)
    assert files(tmp_path) == []


def test_a_data_folder_that_is_a_file_is_refused(target: Target, tmp_path: Path) -> None:
    (tmp_path / "data").touch()
    with pytest.raises(BadInput, match="data_folder"):
        save_target(target, tmp_path / "data")


def test_a_copy_can_be_read_and_writes_over_nothing(target: Target, tmp_path: Path) -> None:
    path = tmp_path / "copy.json"
    copy_target(target, path)
    assert read_target(path, tmp_path) == target
    before = path.read_bytes()
    with pytest.raises(BadInput, match="exists already"):
        copy_target(target, path)
    assert path.read_bytes() == before
    with pytest.raises(BadInput, match="cannot be written"):
        copy_target(target, tmp_path / "no folder" / "copy.json")
    assert files(tmp_path) == ["copy.json"]


@pytest.mark.parametrize("name", ["x/y/z", "Zoë 2/road-1/hoods/v2", "Zoë 2/road-1", "../a/b", "x"])
def test_a_name_not_on_the_shelf_is_refused(target: Target, tmp_path: Path, name: str) -> None:
    save_target(target, tmp_path)
    with pytest.raises(BadInput, match=r"There is no target .*target list"):
        read_target(name, tmp_path)


def test_an_empty_shelf_lists_nothing(tmp_path: Path) -> None:
    assert list_targets(tmp_path) == []
