"""A session is begun whole or not at all, writes over nothing and survives being killed."""

from __future__ import annotations

import errno
import os
import pickle
import sqlite3
import subprocess
import sys
import threading
from pathlib import Path

import numpy as np
import pytest

from posewatch.core.outputs import HoldGained
from posewatch.core.records import Frame, Tick
from posewatch.errors import BadInput, PosewatchError
from posewatch.store import schema, session_writer
from posewatch.store.session_header import SessionEnding, SessionHeader
from posewatch.store.session_reader import SessionReader
from posewatch.store.session_writer import SessionWriter


def files(folder: Path) -> list[str]:
    return sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*"))


def test_a_finished_session_is_one_plain_file(
    tmp_path: Path, header: SessionHeader, ending: SessionEnding
) -> None:
    writer = SessionWriter.create(tmp_path / "a" / "b", header)
    writer.add_input(0, Tick(1))
    writer.finish(ending)
    writer.close()
    assert files(tmp_path) == ["a", "a/b", "a/b/session.sqlite"]
    # Bytes 18 and 19 of the file are 1 without and 2 with a write-ahead log (SQLite, "Database
    # file format", section 1.3).
    assert (tmp_path / "a" / "b" / "session.sqlite").read_bytes()[18:20] == b"\x01\x01"


def test_a_running_session_is_fully_synchronised(tmp_path: Path, header: SessionHeader) -> None:
    with SessionWriter.create(tmp_path / "s", header) as writer:
        connection = writer._connection
        assert connection.execute("PRAGMA journal_mode").fetchone() == ("wal",)
        assert connection.execute("PRAGMA synchronous").fetchone() == (2,)


def test_an_existing_folder_is_refused_and_left_alone(
    tmp_path: Path, header: SessionHeader
) -> None:
    SessionWriter.create(tmp_path / "s", header).close()
    before = (tmp_path / "s" / "session.sqlite").read_bytes()
    (tmp_path / "empty").mkdir()
    (tmp_path / "file").touch()
    for name in ("s", "empty", "file"):
        with pytest.raises(BadInput, match="exists already and was left as it is"):
            SessionWriter.create(tmp_path / name, header)
    assert (tmp_path / "s" / "session.sqlite").read_bytes() == before
    assert files(tmp_path / "empty") == []


def test_a_parent_that_is_a_file_is_refused(tmp_path: Path, header: SessionHeader) -> None:
    (tmp_path / "file").touch()
    with pytest.raises(BadInput, match="cannot be made"):
        SessionWriter.create(tmp_path / "file" / "s", header)


def test_a_parent_without_the_right_to_write_is_refused_and_its_new_folders_go(
    tmp_path: Path, header: SessionHeader, monkeypatch: pytest.MonkeyPatch
) -> None:
    mkdir = Path.mkdir

    def guarded(path: Path, **options: bool) -> None:
        if path.name == "s":
            raise PermissionError(errno.EACCES, "Permission denied")
        mkdir(path, **options)

    monkeypatch.setattr(Path, "mkdir", guarded)
    with pytest.raises(BadInput, match=r"cannot be made .*Permission denied"):
        SessionWriter.create(tmp_path / "new" / "s", header)
    assert files(tmp_path) == []


@pytest.mark.parametrize("broken", ["CREATE TABLE meta (", "SELECT * FROM nowhere"])
def test_a_failure_while_beginning_leaves_nothing(
    tmp_path: Path, header: SessionHeader, monkeypatch: pytest.MonkeyPatch, broken: str
) -> None:
    monkeypatch.setitem(schema.MIGRATIONS, 1, (*schema.MIGRATIONS[1], broken))
    with pytest.raises(BadInput, match="cannot be begun"):
        SessionWriter.create(tmp_path / "new" / "s", header)
    assert files(tmp_path) == []


def test_a_session_has_its_name_only_when_its_header_is_in_it(
    tmp_path: Path, header: SessionHeader, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A kill while it is begun leaves nothing that looks like a session."""
    seen: list[list[str]] = []
    meta = session_writer._meta

    def looked_at(given: SessionHeader) -> dict[str, object]:
        seen.append(files(tmp_path / "s"))
        return meta(given)

    monkeypatch.setattr(session_writer, "_meta", looked_at)
    with SessionWriter.create(tmp_path / "s", header):
        assert "session.sqlite" in files(tmp_path / "s")
    ((*names,),) = seen
    assert "session.sqlite.part" in names
    assert "session.sqlite" not in names
    with SessionReader(tmp_path / "s") as reader:
        assert reader.header == header


def test_what_others_put_into_a_new_folder_survives_a_failure(
    tmp_path: Path, header: SessionHeader, monkeypatch: pytest.MonkeyPatch
) -> None:
    def failing(*_: object) -> None:
        (tmp_path / "new" / "theirs").touch()
        raise KeyboardInterrupt

    monkeypatch.setattr(session_writer, "_begin", failing)
    with pytest.raises(KeyboardInterrupt):
        SessionWriter.create(tmp_path / "new" / "s", header)
    assert files(tmp_path) == ["new", "new/theirs"]


def test_a_full_drive_is_told_in_words(tmp_path: Path, header: SessionHeader) -> None:
    def write_on(writer: SessionWriter) -> None:
        frame = Frame(0, np.zeros((33, 2)), np.zeros(33), np.zeros(33))
        for seq in range(2000):
            writer.add_input(seq, frame)
            if seq % 10 == 9:
                writer.commit()

    with SessionWriter.create(tmp_path / "s", header) as writer:
        writer._connection.execute("PRAGMA max_page_count = 20")
        with pytest.raises(PosewatchError, match=r"cannot be written any more .*full"):
            write_on(writer)
    with SessionReader(tmp_path / "s") as reader:
        assert 0 < len(list(reader.inputs())) < 2000


def test_another_thread_may_not_write(tmp_path: Path, header: SessionHeader) -> None:
    caught: list[BaseException] = []
    with SessionWriter.create(tmp_path / "s", header) as writer:

        def intrude() -> None:
            try:
                writer.add_output(HoldGained(1))
            except sqlite3.ProgrammingError as error:
                caught.append(error)

        thread = threading.Thread(target=intrude)
        thread.start()
        thread.join()
    assert len(caught) == 1


def test_a_number_is_used_once(tmp_path: Path, header: SessionHeader) -> None:
    with SessionWriter.create(tmp_path / "s", header) as writer:
        writer.add_input(3, Tick(1))
        with pytest.raises(sqlite3.IntegrityError):
            writer.add_input(3, Tick(2))


WRITES_UNTIL_KILLED = """
import itertools, pickle, sys
from pathlib import Path
import numpy as np
from posewatch.core.outputs import HoldGained
from posewatch.core.records import Frame
from posewatch.store.session_writer import SessionWriter

writer = SessionWriter.create(Path(sys.argv[1]), pickle.load(sys.stdin.buffer))
writer._connection.execute("PRAGMA wal_autocheckpoint = 10")
for seq in itertools.count():
    writer.add_input(seq, Frame(seq, np.full((33, 2), seq / 16), np.ones(33), np.zeros(33)))
    writer.add_output(HoldGained(seq))
    if seq % 7 == 6:
        writer.commit()
        print(seq, flush=True)
"""


def test_a_killed_session_keeps_all_that_was_committed(
    tmp_path: Path, header: SessionHeader
) -> None:
    folder = tmp_path / "s"
    child = subprocess.Popen(
        [sys.executable, "-c", WRITES_UNTIL_KILLED, str(folder)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        env=os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)},
    )
    with child:
        assert child.stdin is not None
        assert child.stdout is not None
        child.stdin.write(pickle.dumps(header))
        child.stdin.close()
        # Enough for the write-ahead log to have been folded into the database several times.
        reported = [int(child.stdout.readline()) for _ in range(30)]
        child.kill()
    kept_before = {path.name: path.read_bytes() for path in folder.glob("session.sqlite*")}
    assert "session.sqlite-wal" in kept_before

    with SessionReader(folder) as reader:
        assert reader.ending is None
        assert reader.header == header
        inputs = list(reader.inputs())
        n_gained = len(list(reader.events()))
    assert len(inputs) > reported[-1]
    assert len(inputs) % 7 == 0
    assert n_gained == len(inputs)
    for number, (seq, frame) in enumerate(inputs):
        assert isinstance(frame, Frame)
        assert (seq, frame.t_ns) == (number, number)
    for name in ("session.sqlite", "session.sqlite-wal"):
        assert (folder / name).read_bytes() == kept_before[name]
