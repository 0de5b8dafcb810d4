"""Damaged database files are found."""

from __future__ import annotations

import contextlib
import sqlite3
from pathlib import Path

from posewatch.store.soundness import file_damage


def filled(path: Path) -> Path:
    with contextlib.closing(sqlite3.connect(path)) as connection:
        connection.execute("CREATE TABLE one (number INTEGER PRIMARY KEY, text TEXT)")
        connection.execute("CREATE INDEX by_text ON one (text)")
        connection.executemany(
            "INSERT INTO one (text) VALUES (?)", ((f"{n:050}",) for n in range(2000))
        )
        connection.commit()
    return path


def test_a_sound_file_has_none_and_is_not_changed(tmp_path: Path) -> None:
    path = filled(tmp_path / "sound")
    before = path.read_bytes()
    assert file_damage(path) == []
    assert path.read_bytes() == before


def test_a_changed_page_is_found(tmp_path: Path) -> None:
    path = filled(tmp_path / "changed")
    content = bytearray(path.read_bytes())
    # The table says 1500 here, the index still says it there.
    at = content.index(f"{1500:050}".encode())
    content[at + 49 : at + 50] = b"7"
    path.write_bytes(content)
    assert any("by_text" in line for line in file_damage(path))


def test_a_wiped_page_a_cut_file_and_no_database_are_told(tmp_path: Path) -> None:
    path = filled(tmp_path / "wiped")
    content = path.read_bytes()
    path.write_bytes(content[:8192] + bytes(4096) + content[12288:])
    assert file_damage(path) != []
    path.write_bytes(content[: len(content) // 2])
    assert file_damage(path) != []
    path.write_bytes(b"no database at all" * 500)
    assert file_damage(path) != []
    assert file_damage(tmp_path / "missing") != []
