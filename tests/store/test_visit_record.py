"""The record of a visit: one writer, every act at once safe, older ones migrated, none lost."""

from __future__ import annotations

import os
import signal
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest
from made_acts import EVERY_ACT, HEADER, WALL_NS

from posewatch.errors import BadInput, PosewatchError
from posewatch.store import visit_record, visit_schema
from posewatch.store.visit_record import FILE_NAME, VisitRecord, is_visit, read_visit
from posewatch.trials import acts

#: Opens a visit, says so, and waits to be killed.
HOLD = """
import sys, time
from pathlib import Path
from posewatch.store.visit_record import VisitRecord
from posewatch.trials import acts
record = VisitRecord.reopen(Path(sys.argv[1]))
record.add(2, acts.Noted(1, "from the other program"))
print("open", flush=True)
time.sleep(60)
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "deep" / "visit"


@contextmanager
def another_program(folder: Path) -> Iterator[subprocess.Popen[str]]:
    """Have a visit open in a process of its own."""
    with subprocess.Popen(
        [sys.executable, "-c", HOLD, str(folder)],
        stdout=subprocess.PIPE,
        text=True,
        cwd=Path(__file__).parents[2],
    ) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "open\n"
        try:
            yield process
        finally:
            process.kill()


def damaged(folder: Path, statement: str) -> None:
    with closing(sqlite3.connect(folder / FILE_NAME)) as connection:
        connection.execute(statement)
        connection.commit()


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def test_everything_comes_back(folder: Path) -> None:
    with VisitRecord.create(folder, HEADER) as record:
        for act in EVERY_ACT:
            record.add(WALL_NS + act.t_ns, act)
        assert record.kept == ()
    header, kept = read_visit(folder)
    assert header == HEADER
    assert [one.act for one in kept] == list(EVERY_ACT)
    assert [one.seq for one in kept] == list(range(1, len(EVERY_ACT) + 1))
    assert [one.wall_ns for one in kept] == [WALL_NS + act.t_ns for act in EVERY_ACT]
    with VisitRecord.reopen(folder) as record:
        assert (record.header, record.kept) == (header, kept)
        record.add(WALL_NS, acts.Noted(99, "later"))
    assert len(read_visit(folder)[1]) == len(EVERY_ACT) + 1


def test_a_closed_record_is_one_plain_file_and_the_lock(folder: Path) -> None:
    with VisitRecord.create(folder, HEADER) as record:
        record.add(2, acts.Noted(1, "x"))
    assert {path.name for path in folder.iterdir()} <= {FILE_NAME, "visit.lock"}


def test_it_can_be_read_while_it_is_written(folder: Path) -> None:
    with VisitRecord.create(folder, HEADER) as record:
        record.add(2, acts.Noted(1, "x"))
        header, kept = read_visit(folder)
        assert header == HEADER
        assert [one.act for one in kept] == [acts.Noted(1, "x")]


def test_two_programs_cannot_write_one_visit(folder: Path) -> None:
    VisitRecord.create(folder, HEADER).close()
    with another_program(folder):
        with pytest.raises(BadInput, match="Another program is at work on"):
            VisitRecord.reopen(folder)
        assert [one.act for one in read_visit(folder)[1]] == [
            acts.Noted(1, "from the other program")
        ]


@pytest.mark.skipif(os.name == "nt", reason="no SIGKILL")
def test_what_a_killed_program_kept_is_there_and_its_lock_is_gone(folder: Path) -> None:
    VisitRecord.create(folder, HEADER).close()
    with another_program(folder) as process:
        process.send_signal(signal.SIGKILL)
        process.wait()
    with VisitRecord.reopen(folder) as record:
        assert [one.act for one in record.kept] == [acts.Noted(1, "from the other program")]
        record.add(3, acts.Noted(2, "went on"))


def test_nor_can_one_program_twice(folder: Path) -> None:
    with VisitRecord.create(folder, HEADER), pytest.raises(BadInput, match="Another program"):
        VisitRecord.reopen(folder)
    VisitRecord.reopen(folder).close()


def test_an_existing_folder_is_never_touched(tmp_path: Path) -> None:
    (tmp_path / "visit.txt").write_text("mine", encoding="utf-8")
    for place in (tmp_path, tmp_path / "visit.txt"):
        with pytest.raises(BadInput, match="exists already and was left as it is"):
            VisitRecord.create(place, HEADER)
    assert contents(tmp_path) == {"visit.txt": b"mine"}
    with pytest.raises(BadInput, match="cannot be made"):
        VisitRecord.create(tmp_path / "visit.txt" / "inside", HEADER)


def test_a_failure_leaves_nothing_behind(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: object) -> None:
        raise sqlite3.OperationalError("database or disk is full")

    monkeypatch.setattr(visit_schema, "begin", fail)
    with pytest.raises(BadInput, match="database or disk is full"):
        VisitRecord.create(folder, HEADER)
    assert list(tmp_path.iterdir()) == []


def test_a_full_drive_is_told_and_what_was_kept_stays(folder: Path) -> None:
    with VisitRecord.create(folder, HEADER) as record:
        record.add(2, acts.Noted(1, "kept"))
        (pages,) = record._connection.execute("PRAGMA page_count").fetchone()
        record._connection.execute(f"PRAGMA max_page_count = {pages}")
        with pytest.raises(PosewatchError, match=r"cannot be written any more .*full"):
            record.add(3, acts.Noted(2, "x" * 100_000))
        record._connection.execute("PRAGMA max_page_count = 1000000")
        record.add(4, acts.Noted(3, "room again"))
    kept = [one.act for one in read_visit(folder)[1]]
    assert kept == [acts.Noted(1, "kept"), acts.Noted(3, "room again")]


def test_text_that_cannot_be_kept_is_told(folder: Path) -> None:
    with VisitRecord.create(folder, HEADER) as record:
        with pytest.raises(BadInput, match="characters that cannot be kept"):
            record.add(2, acts.Noted(1, "half a \udce4"))
        record.add(2, acts.Noted(1, "whole"))
    assert [one.act for one in read_visit(folder)[1]] == [acts.Noted(1, "whole")]


def test_an_older_schema_is_migrated_and_the_original_kept(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with VisitRecord.create(folder, HEADER) as record:
        record.add(2, acts.Noted(1, "old"))
    newer = {2: ("ALTER TABLE acts ADD COLUMN colour TEXT DEFAULT 'blue'",)}
    monkeypatch.setattr(visit_schema, "MIGRATIONS", visit_schema.MIGRATIONS | newer)
    monkeypatch.setattr(visit_schema, "SCHEMA_VERSION", 2)
    before = (folder / FILE_NAME).read_bytes()
    # Reading changes nothing.
    assert [one.act for one in read_visit(folder)[1]] == [acts.Noted(1, "old")]
    assert (folder / FILE_NAME).read_bytes() == before
    with VisitRecord.reopen(folder) as record:
        assert [one.act for one in record.kept] == [acts.Noted(1, "old")]
        record.add(3, acts.Noted(2, "new"))
    kept = folder / "visit.schema1.sqlite"
    for path, version, n in ((kept, 1, 1), (folder / FILE_NAME, 2, 2)):
        with closing(sqlite3.connect(path)) as connection:
            assert connection.execute("PRAGMA user_version").fetchone() == (version,)
            assert connection.execute("SELECT count(*) FROM acts").fetchone() == (n,)
    assert not list(folder.glob("*.part"))


def test_a_migration_that_fails_changes_nothing(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    VisitRecord.create(folder, HEADER).close()
    broken = {2: ("ALTER TABLE acts ADD COLUMN colour TEXT", "ALTER TABLE nowhere ADD COLUMN x")}
    monkeypatch.setattr(visit_schema, "MIGRATIONS", visit_schema.MIGRATIONS | broken)
    monkeypatch.setattr(visit_schema, "SCHEMA_VERSION", 2)
    with pytest.raises(BadInput, match="no such table: nowhere"):
        VisitRecord.reopen(folder)
    monkeypatch.undo()
    with VisitRecord.reopen(folder) as record:
        assert record.header == HEADER
    assert "colour" not in (folder / FILE_NAME).read_bytes().decode("latin-1")


def test_a_newer_schema_is_refused_and_not_changed(folder: Path) -> None:
    VisitRecord.create(folder, HEADER).close()
    damaged(folder, "PRAGMA user_version = 9")
    before = (folder / FILE_NAME).read_bytes()
    for opened in (VisitRecord.reopen, read_visit):
        with pytest.raises(BadInput, match="has schema version 9; this program reads up to 1"):
            opened(folder)
    assert (folder / FILE_NAME).read_bytes() == before


@pytest.mark.parametrize(
    ("statement", "said"),
    [
        ("PRAGMA user_version = 0", "was not begun by posewatch"),
        ("DROP TABLE acts", "no such table: acts"),
        ("DELETE FROM meta WHERE key = 'plan'", "it lacks 'plan'"),
        ("UPDATE meta SET value = '\"posewatch watch\"' WHERE key = 'format'", "it says"),
        ("UPDATE meta SET value = '{' WHERE key = 'codes'", "cannot be used"),
        ("INSERT INTO acts VALUES (1, 2, 3, 'flew away', '{}')", "unknown kind 'flew away'"),
        ("INSERT INTO acts VALUES (1, 2, 3, 'noted', '{}')", "cannot be used"),
    ],
)
def test_a_damaged_record_is_told_in_a_line(folder: Path, statement: str, said: str) -> None:
    VisitRecord.create(folder, HEADER).close()
    damaged(folder, statement)
    for opened in (VisitRecord.reopen, read_visit):
        with pytest.raises(BadInput) as raised:
            opened(folder)
        assert said in str(raised.value)
        assert "\n" not in str(raised.value)


@pytest.mark.parametrize("data", [b"", b"not a database at all, but long enough" * 40])
def test_a_file_that_is_no_database_is_told(folder: Path, data: bytes) -> None:
    VisitRecord.create(folder, HEADER).close()
    (folder / FILE_NAME).write_bytes(data)
    for opened in (VisitRecord.reopen, read_visit):
        with pytest.raises(BadInput):
            opened(folder)
    assert (folder / FILE_NAME).read_bytes() == data


def test_a_plan_that_was_altered_inside_is_told(folder: Path) -> None:
    VisitRecord.create(folder, HEADER).close()
    damaged(folder, "UPDATE meta SET value = replace(value, 'r17', 'r18') WHERE key = 'codes'")
    read_visit(folder)
    seed = "replace(value, '\\\"seed\\\": 1,', '\\\"seed\\\": 2,')"
    damaged(folder, f"UPDATE meta SET value = {seed} WHERE key = 'plan'")
    with pytest.raises(BadInput, match=r"The plan in visit .* it was altered"):
        read_visit(folder)


def test_what_is_no_visit(tmp_path: Path) -> None:
    assert not is_visit(tmp_path)
    for opened in (VisitRecord.reopen, read_visit):
        with pytest.raises(BadInput, match=r"is no visit: it holds no visit\.sqlite"):
            opened(tmp_path / "gone")


def test_closing_twice_is_harmless_and_the_next_one_can_open(folder: Path) -> None:
    record = VisitRecord.create(folder, HEADER)
    record.close()
    record.close()
    assert is_visit(folder)
    visit_record.VisitRecord.reopen(folder).close()
