"""Writes a session as it happens: rows as they come, safe after every commit."""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from filelock import FileLock

from posewatch.core.outputs import Output
from posewatch.core.records import Input
from posewatch.errors import BadInput, PosewatchError
from posewatch.store import rows, schema
from posewatch.store.in_use import SESSION_LOCK, let_go, locked
from posewatch.store.session_header import SessionEnding, SessionHeader
from posewatch.store.target_file import render_target

BUSY_TIMEOUT_S = 5.0


class SessionWriter:
    """The only connection that writes to a session.

    It belongs to the thread that called :meth:`create`; SQLite refuses every other one. Nothing
    is safe before :meth:`commit`; everything before it survives a kill and a power cut. A lock file
    beside it says that it is being written; the system lets go of it when the program dies.
    """

    def __init__(self, folder: Path, connection: sqlite3.Connection, lock: FileLock) -> None:
        self.folder = folder
        self._connection, self._lock = connection, lock

    @classmethod
    def create(cls, folder: Path, header: SessionHeader) -> Self:
        """Make a session's folder and begin it; a failure leaves nothing behind.

        Raises:
            BadInput: the folder exists, or cannot be made or written to.
        """
        made = _make_folder(folder)
        lock = None
        try:
            lock = locked(folder / SESSION_LOCK)
            _begin(folder / schema.FILE_NAME, header)
            connection = _opened(folder / schema.FILE_NAME)
        except BaseException as error:
            if lock is not None:
                let_go(lock)
            _take_back(made)
            if isinstance(error, sqlite3.Error):
                raise BadInput(
                    f"The session {folder} cannot be begun ({error}).",
                    "Choose a folder on a local drive with free space.",
                ) from error
            raise
        return cls(folder, connection, lock)

    def add_input(self, seq: int, item: Input) -> None:
        """Log one input under its number in the order consumed."""
        self._insert("inputs", rows.input_row(seq, item))

    def add_output(self, output: Output) -> None:
        """Log what the pipeline said."""
        self._insert(*rows.output_row(output))

    def add_wall_time(self, t_ns: int, wall_ns: int) -> None:
        """Log what the wall clock showed (ns since 1970 UTC) at a moment of session time."""
        self._insert("anchors", (t_ns, wall_ns))

    def commit(self) -> None:
        """Make everything added so far safe.

        Raises:
            PosewatchError: the drive is full, gone or broken.
        """
        with self._explained():
            self._connection.commit()

    def finish(self, ending: SessionEnding) -> None:
        """Add the ending, make all of it safe and close; the session is one plain file then.

        Raises:
            PosewatchError: the drive is full, gone or broken.
        """
        try:
            self._insert("ending", rows.ending_row(ending))
            self.commit()
            # So that readers need no right to write beside it. A reader at this moment keeps the
            # database in WAL mode, which harms nothing.
            with contextlib.suppress(sqlite3.OperationalError):
                self._connection.execute("PRAGMA journal_mode = DELETE")
        finally:
            self.close()

    def close(self) -> None:
        """Close without an ending, keeping what was committed; harmless after finish."""
        self._connection.close()
        let_go(self._lock)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        self.close()

    def _insert(self, table: str, row: rows.Row) -> None:
        with self._explained():
            self._connection.execute(schema.INSERTS[table], row)

    @contextlib.contextmanager
    def _explained(self) -> Iterator[None]:
        try:
            yield
        except (sqlite3.IntegrityError, sqlite3.ProgrammingError):
            raise  # a fault of the program, not of the drive
        except sqlite3.Error as error:
            raise PosewatchError(
                f"The session {self.folder} cannot be written any more ({error}).",
                "Make room on its drive and start a new session; what was kept can be read.",
            ) from error


def _make_folder(folder: Path) -> list[Path]:
    """Make a folder and its missing parents; return those made, innermost first."""
    if folder.exists():
        raise BadInput(
            f"The session folder {folder} exists already and was left as it is.",
            "Name a folder that does not exist yet.",
        )
    missing = [path for path in (folder, *folder.parents) if not path.exists()]
    made: list[Path] = []
    try:
        for path in reversed(missing):
            # Another program may have made a parent meanwhile; the folder itself must be ours.
            if path == folder or not path.exists():
                path.mkdir(exist_ok=path != folder)
                made.insert(0, path)
    except OSError as error:
        _take_back(made)
        raise BadInput(
            f"The session folder {folder} cannot be made ({error.strerror or error}).",
            "Name a folder in a place that can be written to.",
        ) from error
    return made


def _take_back(made: list[Path]) -> None:
    """Remove the folders that were made; what others have put there meanwhile stays."""
    for folder in made:
        if folder is made[0]:
            for path in folder.glob(f"{schema.FILE_NAME}*"):
                path.unlink(missing_ok=True)
        with contextlib.suppress(OSError):
            folder.rmdir()


def _opened(path: Path) -> sqlite3.Connection:
    """Return a connection whose every commit is safe, a power cut included."""
    connection = sqlite3.connect(path, timeout=BUSY_TIMEOUT_S)
    try:
        mode = connection.execute("PRAGMA journal_mode = WAL").fetchone()[0]
        if mode != "wal":
            raise sqlite3.OperationalError(f"the drive cannot keep a write-ahead log, only {mode}")
        connection.execute("PRAGMA synchronous = FULL")
    except BaseException:
        connection.close()
        raise
    return connection


def _begin(path: Path, header: SessionHeader) -> None:
    """Make the tables and write the header; the file has its name only when it has both."""
    part = path.with_name(f"{path.name}.part")
    with contextlib.closing(_opened(part)) as connection:
        connection.execute("BEGIN")
        schema.migrate(connection)
        for key, value in _meta(header).items():
            connection.execute(schema.INSERTS["meta"], (key, rows.to_json(value)))
        connection.commit()
    part.rename(path)


def _meta(header: SessionHeader) -> dict[str, Any]:
    return {
        "format": schema.FORMAT,
        "schema_version": schema.SCHEMA_VERSION,
        "created": header.created,
        "versions": dict(header.versions),
        "target": render_target(header.target),
        "plan": rows.to_document(header.plan),
        "chain": rows.to_document(header.chain),
        "profile": None if header.profile is None else rows.to_document(header.profile),
        "stream": rows.to_document(header.stream),
        "sensors": rows.to_document(header.sensors),
        "settings": header.settings_text,
        "keep_until": header.keep_until,
        "video": None if header.video is None else rows.to_document(header.video),
    }
