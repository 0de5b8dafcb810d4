"""Is a database file sound? SQLite looks through all of it."""

from __future__ import annotations

import contextlib
import sqlite3
from pathlib import Path


def damage(connection: sqlite3.Connection) -> list[str]:
    """Return what SQLite finds wrong with the structure of an open database, empty = nothing."""
    try:
        lines = connection.execute("PRAGMA integrity_check").fetchall()
    except sqlite3.DatabaseError as error:  # so damaged that it cannot even be looked through
        return [str(error)]
    return [line for (line,) in lines if line != "ok"]


def file_damage(path: Path) -> list[str]:
    """Return the same of a file, which is not changed."""
    try:
        address = path.resolve().as_uri() + "?mode=ro"
        with contextlib.closing(sqlite3.connect(address, uri=True)) as connection:
            return damage(connection)
    except sqlite3.Error as error:
        return [str(error)]
