"""The session database: its tables, and the steps from one version of them to the next."""

from __future__ import annotations

import sqlite3

FILE_NAME = "session.sqlite"
FORMAT = "posewatch session"
SCHEMA_VERSION = 4

#: Statements that lead from the version before to the key's version; 0 = an empty file. Times are
#: ns on the session clock except wall_ns. Landmarks in ``payload`` are 33 x (x, y) int16 little
#: endian in sixteenths of a pixel, 33 visibility and 33 presence bytes (255 = 1).
MIGRATIONS: dict[int, tuple[str, ...]] = {
    1: (
        "CREATE TABLE meta (key TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID",
        """CREATE TABLE inputs (
            seq INTEGER PRIMARY KEY, t_ns INTEGER NOT NULL, kind TEXT NOT NULL,
            payload BLOB NOT NULL)""",
        """CREATE TABLE strokes (
            id INTEGER PRIMARY KEY, start_ns INTEGER NOT NULL, end_ns INTEGER NOT NULL,
            verdict TEXT NOT NULL, counted INTEGER NOT NULL, phase TEXT NOT NULL, reason TEXT,
            channels TEXT NOT NULL)""",
        """CREATE TABLE intervals (
            id INTEGER PRIMARY KEY, start_ns INTEGER NOT NULL, end_ns INTEGER NOT NULL,
            n_strokes INTEGER NOT NULL, confirmed INTEGER NOT NULL)""",
        """CREATE TABLE events (
            id INTEGER PRIMARY KEY, kind TEXT NOT NULL, t_ns INTEGER NOT NULL, end_ns INTEGER,
            n_strokes INTEGER, reason TEXT, channel TEXT, direction TEXT,
            change REAL, span_ns INTEGER)""",
        """CREATE TABLE anchors (
            id INTEGER PRIMARY KEY, t_ns INTEGER NOT NULL, wall_ns INTEGER NOT NULL)""",
        """CREATE TABLE ending (
            id INTEGER PRIMARY KEY CHECK (id = 1), how TEXT NOT NULL,
            n_frames INTEGER NOT NULL, watched_ns INTEGER NOT NULL, n_counted INTEGER NOT NULL,
            counted_ns INTEGER NOT NULL, n_intervals INTEGER NOT NULL, dropped TEXT NOT NULL,
            message TEXT NOT NULL)""",
    ),
    2: (),  # the header names the camera profile, and its target has a leg
    # The header names the sensors and says until when it is kept; inputs may be driven turns, and
    # speak of clock and drive.
    3: (
        "INSERT OR IGNORE INTO meta (key, value) VALUES ('sensors', '{}')",
        "INSERT OR IGNORE INTO meta (key, value) VALUES ('keep_until', '\"\"')",
    ),
    # The header says whether a video is kept; inputs may speak of it.
    4: ("INSERT OR IGNORE INTO meta (key, value) VALUES ('video', 'null')",),
}

INSERTS = {
    "meta": "INSERT OR REPLACE INTO meta (key, value) VALUES (?, ?)",
    "inputs": "INSERT INTO inputs (seq, t_ns, kind, payload) VALUES (?, ?, ?, ?)",
    "strokes": (
        "INSERT INTO strokes (start_ns, end_ns, verdict, counted, phase, reason, channels) "
        "VALUES (?, ?, ?, ?, ?, ?, ?)"
    ),
    "intervals": (
        "INSERT INTO intervals (start_ns, end_ns, n_strokes, confirmed) VALUES (?, ?, ?, ?)"
    ),
    "events": (
        "INSERT INTO events (kind, t_ns, end_ns, n_strokes, reason, channel, direction, change, "
        "span_ns) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)"
    ),
    "anchors": "INSERT INTO anchors (t_ns, wall_ns) VALUES (?, ?)",
    "ending": (
        "INSERT INTO ending (id, how, n_frames, watched_ns, n_counted, counted_ns, "
        "n_intervals, dropped, message) VALUES (1, ?, ?, ?, ?, ?, ?, ?, ?)"
    ),
}

SELECTS = {
    "meta": "SELECT key, value FROM meta",
    "inputs": "SELECT seq, t_ns, kind, payload FROM inputs ORDER BY seq",
    "strokes": (
        "SELECT start_ns, end_ns, verdict, counted, phase, reason, channels FROM strokes "
        "ORDER BY id"
    ),
    "intervals": "SELECT start_ns, end_ns, n_strokes, confirmed FROM intervals ORDER BY id",
    "events": (
        "SELECT kind, t_ns, end_ns, n_strokes, reason, channel, direction, change, span_ns "
        "FROM events ORDER BY id"
    ),
    "anchors": "SELECT t_ns, wall_ns FROM anchors ORDER BY id",
    "ending": (
        "SELECT how, n_frames, watched_ns, n_counted, counted_ns, n_intervals, dropped, "
        "message FROM ending"
    ),
}


def found_version(connection: sqlite3.Connection) -> int:
    """Return the version of the tables in a file; 0 = none of ours."""
    return int(connection.execute("PRAGMA user_version").fetchone()[0])


def migrate(connection: sqlite3.Connection) -> None:
    """Bring the tables to the newest version, inside the transaction that is open."""
    for version in range(found_version(connection) + 1, SCHEMA_VERSION + 1):
        for statement in MIGRATIONS[version]:
            connection.execute(statement)
        connection.execute(f"PRAGMA user_version = {version}")
