"""The record of one visit: what was done, when, in the order it was done; every row at once safe.

A visit is a folder: ``visit.sqlite`` has the plan, the codes and the acts; each trial's watch has a
session folder of its own inside it. Nothing in the record is ever changed or taken out.
"""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from types import TracebackType
from typing import Self

from filelock import FileLock

from posewatch.errors import BadInput, PosewatchError
from posewatch.store import visit_schema
from posewatch.store.in_use import VISIT_LOCK, locked
from posewatch.store.visit_header import KeptAct, VisitHeader
from posewatch.store.visit_rows import act_row
from posewatch.store.visit_schema import FILE_NAME as FILE_NAME
from posewatch.store.visit_schema import FORMAT as FORMAT
from posewatch.trials.acts import Act

BUSY_TIMEOUT_S = 5.0


class VisitRecord:
    """The only connection that writes to a visit; it belongs to the thread that opened it.

    header: what was known before. kept: the acts that were there when it was opened.
    """

    header: VisitHeader
    kept: tuple[KeptAct, ...]

    def __init__(self, folder: Path, connection: sqlite3.Connection, lock: FileLock) -> None:
        self.folder = folder
        self._connection, self._lock = connection, lock
        self.header, self.kept = visit_schema.read(connection, folder)

    @classmethod
    def create(cls, folder: Path, header: VisitHeader) -> Self:
        """Begin the record of a new visit; a failure leaves nothing behind.

        Raises:
            BadInput: the folder exists, or cannot be made or written to.
        """
        made = _make_folder(folder)
        try:
            lock = locked(folder / VISIT_LOCK)
            try:
                with _explained(folder), _opened(folder) as connection:
                    visit_schema.begin(connection, header)
                    return cls(folder, connection, lock)
            except BaseException:
                lock.release()
                for path in folder.glob("visit.*"):
                    path.unlink(missing_ok=True)
                raise
        except BaseException:
            _take_back(made)
            raise

    @classmethod
    def reopen(cls, folder: Path) -> Self:
        """Go on with a visit; a record of an older schema is copied before it is migrated.

        Raises:
            BadInput: no such visit, another program writes to it, it is of a newer program or
                damaged.
        """
        _require_visit(folder)
        lock = locked(folder / VISIT_LOCK)
        try:
            with _explained(folder), _opened(folder) as connection:
                visit_schema.bring_up_to_date(connection, folder)
                connection.execute("PRAGMA journal_mode = WAL")
                return cls(folder, connection, lock)
        except BaseException:
            lock.release()
            raise

    def add(self, wall_ns: int, *done: Act) -> None:
        """Keep acts of one moment, all or none; they survive a kill and a power cut from here.

        Raises:
            BadInput: it holds text that cannot be kept; nothing is.
            PosewatchError: the drive is full, gone or broken.
        """
        try:
            with self._connection:
                self._connection.executemany(
                    "INSERT INTO acts (t_ns, wall_ns, kind, payload) VALUES (?, ?, ?, ?)",
                    [act_row(act, wall_ns) for act in done],
                )
        except UnicodeEncodeError as error:
            raise BadInput(
                "What was typed holds characters that cannot be kept.", "Type it again."
            ) from error
        except sqlite3.ProgrammingError:
            raise  # a fault of the program, not of the drive
        except sqlite3.Error as error:
            raise PosewatchError(
                f"The visit {self.folder} cannot be written any more ({error}).",
                "Make room on its drive and go on with the visit; what was kept is safe.",
            ) from error

    def close(self) -> None:
        """Close; twice is harmless. The record is one plain file then."""
        # So that readers need no right to write beside it. A reader at this moment keeps the
        # database in WAL mode, which harms nothing.
        with contextlib.suppress(sqlite3.Error):
            self._connection.execute("PRAGMA journal_mode = DELETE")
        self._connection.close()
        self._lock.release()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        self.close()


def read_visit(folder: Path) -> tuple[VisitHeader, tuple[KeptAct, ...]]:
    """Read a visit, finished or not, also while it is written; it is not changed.

    Raises:
        BadInput: no such visit, made by a newer program, or damaged.
    """
    _require_visit(folder)
    with _explained(folder):
        address = (folder / FILE_NAME).resolve().as_uri() + "?mode=ro"
        connection = sqlite3.connect(address, uri=True, timeout=BUSY_TIMEOUT_S)
        with contextlib.closing(connection):
            copy = visit_schema.up_to_date_copy(connection, folder)
        with contextlib.closing(copy):
            return visit_schema.read(copy, folder)


def is_visit(folder: Path) -> bool:
    """Tell whether a folder is a visit's."""
    return (folder / FILE_NAME).is_file()


def _require_visit(folder: Path) -> None:
    if not is_visit(folder):
        raise BadInput(
            f"{folder} is no visit: it holds no {FILE_NAME}.",
            "Name the folder that `posewatch trial run --session` wrote.",
        )


def _make_folder(folder: Path) -> list[Path]:
    """Make a folder and its missing parents; return those made, innermost first."""
    missing = [path for path in (folder, *folder.parents) if not path.exists()]
    if not missing:
        raise BadInput(
            f"The visit's folder {folder} exists already and was left as it is.",
            "Name a folder that does not exist yet.",
        )
    try:
        folder.mkdir(parents=True)
    except OSError as error:
        _take_back(missing)
        raise BadInput(
            f"The visit's folder {folder} cannot be made ({error.strerror or error}).",
            "Name a folder in a place that can be written to.",
        ) from error
    return missing


def _take_back(made: list[Path]) -> None:
    """Remove the folders that were made, as far as they are empty."""
    for folder in made:
        with contextlib.suppress(OSError):
            folder.rmdir()


@contextlib.contextmanager
def _opened(folder: Path) -> Iterator[sqlite3.Connection]:
    """Open the database; it is closed only where what is done with it fails."""
    connection = sqlite3.connect(folder / FILE_NAME, timeout=BUSY_TIMEOUT_S)
    try:
        connection.execute("PRAGMA synchronous = FULL")
        yield connection
    except BaseException:
        connection.close()
        raise


@contextlib.contextmanager
def _explained(folder: Path) -> Iterator[None]:
    try:
        yield
    except (sqlite3.Error, ValueError, TypeError, LookupError, OSError) as error:
        said = " ".join(str(error).split())
        problem = f"it lacks {said}" if isinstance(error, LookupError) else said
        raise BadInput(
            f"The visit {folder} cannot be used ({problem}).",
            f"Check that you may open {FILE_NAME} there; if it is damaged, restore it from a copy.",
        ) from error
