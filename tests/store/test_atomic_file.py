"""A new file is there whole or not at all, also on drives without hard links."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from posewatch.store.atomic_file import write_new


def no_link(*_: object) -> None:
    raise OSError(errno.EPERM, "Operation not permitted")


@pytest.fixture(params=[True, False], ids=["links", "no links"])
def folder(request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    if not request.param:
        monkeypatch.setattr(os, "link", no_link)
    return tmp_path


def test_the_text_is_written_as_it_is(folder: Path) -> None:
    write_new(folder / "a.txt", "größe\n")
    assert (folder / "a.txt").read_bytes() == "größe\n".encode()
    assert [path.name for path in folder.iterdir()] == ["a.txt"]


def test_an_existing_file_stays_as_it_is(folder: Path) -> None:
    (folder / "a.txt").write_text("old", encoding="utf-8")
    with pytest.raises(FileExistsError):
        write_new(folder / "a.txt", "new")
    assert (folder / "a.txt").read_text(encoding="utf-8") == "old"
    assert [path.name for path in folder.iterdir()] == ["a.txt"]


def test_a_failure_before_the_name_is_given_leaves_nothing(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(os, "fsync", no_link)
    with pytest.raises(OSError, match="not permitted"):
        write_new(folder / "a.txt", "text")
    assert list(folder.iterdir()) == []


def test_a_failure_while_the_name_is_given_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(os, "link", no_link)
    monkeypatch.setattr(os, "replace", no_link)
    with pytest.raises(OSError, match="not permitted"):
        write_new(tmp_path / "a.txt", "text")
    assert list(tmp_path.iterdir()) == []
