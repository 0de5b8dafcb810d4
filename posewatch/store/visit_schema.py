"""The tables of a visit's record: how they begin, are brought up to date, and are read."""

from __future__ import annotations

import contextlib
import json
import sqlite3
from pathlib import Path
from typing import Any

from posewatch.errors import BadInput
from posewatch.store.plan_file import parse_plan, render_plan
from posewatch.store.rows import to_json
from posewatch.store.visit_header import KeptAct, VisitHeader
from posewatch.store.visit_rows import act_from_row

FILE_NAME = "visit.sqlite"
FORMAT = "posewatch visit"
SCHEMA_VERSION = 1

#: Statements that lead from the version before to the key's version; 0 = an empty file.
MIGRATIONS: dict[int, tuple[str, ...]] = {
    1: (
        "CREATE TABLE meta (key TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID",
        """CREATE TABLE acts (
            seq INTEGER PRIMARY KEY, t_ns INTEGER NOT NULL, wall_ns INTEGER NOT NULL,
            kind TEXT NOT NULL, payload TEXT NOT NULL)""",
    ),
}


def begin(connection: sqlite3.Connection, header: VisitHeader) -> None:
    """Make the tables and write the header, both or nothing."""
    mode = connection.execute("PRAGMA journal_mode = WAL").fetchone()[0]
    if mode != "wal":
        raise sqlite3.OperationalError(f"the drive cannot keep a write-ahead log, only {mode}")
    connection.execute("BEGIN")
    _migrate(connection, 0)
    meta = {
        "format": FORMAT,
        "plan": render_plan(header.plan),
        "plan_sha256": header.plan_sha256,
        "codes": header.codes,
        "sealed_sha256": header.sealed_sha256,
        "consent": header.consent,
        "keep_until": header.keep_until,
        "rehearsal": header.rehearsal,
        "fast": header.fast,
        "versions": dict(header.versions),
        "created": header.created,
    }
    for key, value in meta.items():
        connection.execute("INSERT INTO meta (key, value) VALUES (?, ?)", (key, to_json(value)))
    connection.commit()


def _migrate(connection: sqlite3.Connection, found: int) -> None:
    for version in range(found + 1, SCHEMA_VERSION + 1):
        for statement in MIGRATIONS[version]:
            connection.execute(statement)
        connection.execute(f"PRAGMA user_version = {version}")


def require_version(connection: sqlite3.Connection, folder: Path) -> int:
    """Return the version of a record, 1 or later, that this program can read.

    Raises:
        BadInput: of a newer program, or no record at all.
    """
    found = int(connection.execute("PRAGMA user_version").fetchone()[0])
    if found > SCHEMA_VERSION:
        raise BadInput(
            f"The visit {folder} has schema version {found}; this program reads up to "
            f"{SCHEMA_VERSION}.",
            "Open it with the program version that recorded it, or a newer one.",
        )
    if found == 0:
        raise BadInput(
            f"{folder} is no visit: its {FILE_NAME} was not begun by posewatch.", "Name another."
        )
    return found


def bring_up_to_date(connection: sqlite3.Connection, folder: Path) -> None:
    """Migrate an older record, all of it or nothing; the original is kept beside it."""
    found = require_version(connection, folder)
    if found == SCHEMA_VERSION:
        return
    kept = folder / f"visit.schema{found}.sqlite"
    if not kept.exists():
        part = kept.with_suffix(".part")  # so that no half copy ever has the name of the original
        part.unlink(missing_ok=True)
        with contextlib.closing(sqlite3.connect(part)) as copy:
            connection.backup(copy)
        part.replace(kept)
    connection.execute("BEGIN IMMEDIATE")
    _migrate(connection, found)
    connection.commit()


def up_to_date_copy(connection: sqlite3.Connection, folder: Path) -> sqlite3.Connection:
    """Return a copy in memory that is up to date; the record itself is not changed."""
    found = require_version(connection, folder)
    copy = sqlite3.connect(":memory:")
    connection.backup(copy)
    _migrate(copy, found)
    return copy


def read(connection: sqlite3.Connection, folder: Path) -> tuple[VisitHeader, tuple[KeptAct, ...]]:
    """Return what a record that is up to date holds.

    Raises:
        ValueError, LookupError, sqlite3.Error: it is damaged.
    """
    stored = connection.execute("SELECT key, value FROM meta")
    meta: dict[str, Any] = {key: json.loads(value) for key, value in stored}
    if meta["format"] != FORMAT:
        raise ValueError(f"it says {meta['format']!r} of itself")
    header = VisitHeader(
        parse_plan(meta["plan"], f"The plan in visit {folder}"),
        meta["plan_sha256"],
        tuple(meta["codes"]),
        meta["sealed_sha256"],
        meta["consent"],
        meta["keep_until"],
        meta["rehearsal"],
        meta["fast"],
        meta["versions"],
        meta["created"],
    )
    rows = connection.execute("SELECT seq, t_ns, wall_ns, kind, payload FROM acts ORDER BY seq")
    acts = (
        KeptAct(seq, wall_ns, act_from_row(t_ns, kind, payload))
        for seq, t_ns, wall_ns, kind, payload in rows
    )
    return header, tuple(acts)
