"""What was made of a recording is noted and found again as long as it is as it was made."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from posewatch.store.derived import FILE_NAME, derived_of, note_derived


def test_files_and_their_folder_are_found_again(tmp_path: Path) -> None:
    made = tmp_path / "größe export"
    made.mkdir()
    (made / "strokes.csv").write_text("a", encoding="utf-8")
    (made / "intervals.csv").write_text("b", encoding="utf-8")
    (tmp_path / "s").mkdir()
    note_derived(tmp_path / "s", [made / "strokes.csv"])
    note_derived(tmp_path / "s", [made / "intervals.csv"], made)
    found = derived_of(tmp_path / "s")
    assert [one.path for one in found] == [made / "strokes.csv", made / "intervals.csv", made]
    # As coreutils gives it: printf a | sha256sum.
    assert found[0].sha256 == "ca978112ca1bbdcafac231b39a23dc4da786eff8147c4e72b9807785afee48bb"
    assert all(one.is_as_made for one in found)


def test_a_changed_or_missing_file_is_not_as_made(tmp_path: Path) -> None:
    for name in ("changed", "gone", "kept"):
        (tmp_path / name).write_text(name, encoding="utf-8")
    note_derived(tmp_path, [tmp_path / name for name in ("changed", "gone", "kept")])
    (tmp_path / "changed").write_text("by somebody", encoding="utf-8")
    (tmp_path / "gone").unlink()
    assert [one.is_as_made for one in derived_of(tmp_path)] == [False, False, True]


@pytest.mark.skipif(os.name != "posix", reason="links need a right of their own there")
def test_a_link_in_the_place_of_a_file_is_not_as_made(tmp_path: Path) -> None:
    (tmp_path / "a").touch()
    note_derived(tmp_path, [tmp_path / "a"])
    (tmp_path / "a").rename(tmp_path / "elsewhere")
    (tmp_path / "a").symlink_to(tmp_path / "elsewhere")
    assert [one.is_as_made for one in derived_of(tmp_path)] == [False]


def test_the_newest_note_of_a_path_counts(tmp_path: Path) -> None:
    path = tmp_path / "figure.svg"
    for text in ("old", "new"):
        path.write_text(text, encoding="utf-8")
        note_derived(tmp_path, [path])
    (found,) = derived_of(tmp_path)
    assert found.is_as_made


def test_nothing_noted_and_lines_cut_off_are_passed_over(tmp_path: Path) -> None:
    assert derived_of(tmp_path) == ()
    (tmp_path / "a").touch()
    note_derived(tmp_path, [tmp_path / "a"])
    with (tmp_path / FILE_NAME).open("a", encoding="utf-8") as file:
        file.write('{"path": "/etc\n[]\n{"path": 3, "sha256": ""}\n{"path"')
    assert [one.path for one in derived_of(tmp_path)] == [tmp_path / "a"]
