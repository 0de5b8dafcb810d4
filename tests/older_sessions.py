"""Sessions as earlier versions of the program wrote them."""

from __future__ import annotations

import contextlib
import sqlite3
from pathlib import Path

from posewatch.store import schema

#: What the header did not say before a version.
META_SINCE = {"sensors": 3, "keep_until": 3, "video": 4}


def older_session(session: Path, folder: Path, version: int) -> Path:
    """Write a session again with the tables and header of an older schema; returns its folder."""
    folder.mkdir()
    with (
        contextlib.closing(sqlite3.connect(session / schema.FILE_NAME)) as newest,
        contextlib.closing(sqlite3.connect(folder / schema.FILE_NAME)) as old,
    ):
        for number in range(1, version + 1):
            for statement in schema.MIGRATIONS[number]:
                old.execute(statement)
        for table in ("meta", "inputs", "strokes", "intervals", "events", "anchors", "ending"):
            rows = newest.execute(f"SELECT * FROM {table}").fetchall()
            if table == "meta":
                rows = [row for row in rows if META_SINCE.get(row[0], 0) <= version]
            if rows:
                places = ", ".join("?" * len(rows[0]))
                old.executemany(f"INSERT INTO {table} VALUES ({places})", rows)
        old.execute("UPDATE meta SET value = ? WHERE key = 'schema_version'", (str(version),))
        old.execute(f"PRAGMA user_version = {version}")
        old.commit()
    return folder
