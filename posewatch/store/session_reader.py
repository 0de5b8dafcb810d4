"""Reads a session, finished, cut off or still running, and never changes it.

One of an older schema is copied into memory and migrated there: what lies on the disk stays as it
was recorded.
"""

from __future__ import annotations

import contextlib
import json
import sqlite3
from collections.abc import Callable, Iterator
from pathlib import Path
from types import TracebackType
from typing import Any, Self, TypeVar

from posewatch.core.measuring_chain import MeasuringChain
from posewatch.core.outputs import StrokeJudged, ValidInterval
from posewatch.core.plane import CameraProfile
from posewatch.core.records import Input
from posewatch.core.sensor_use import SensorUse
from posewatch.core.sources import StreamInfo
from posewatch.core.video_use import VideoUse
from posewatch.core.watch_plan import WatchPlan
from posewatch.errors import BadInput
from posewatch.store import rows, schema, soundness
from posewatch.store.session_header import Anchor, SessionEnding, SessionHeader
from posewatch.store.target_file import parse_target

BUSY_TIMEOUT_S = 5.0
T = TypeVar("T")


class SessionReader:
    """A recorded session.

    header: what was known before it began. ending: None if it was cut off or still runs.

    Raises (here and while reading):
        BadInput: no such session, made by a newer program, or damaged.
    """

    header: SessionHeader
    ending: SessionEnding | None

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        path = folder / schema.FILE_NAME
        if not path.is_file():
            raise self._not_a_session(f"it holds no {schema.FILE_NAME}" if folder.is_dir() else "")
        with self._explained():
            address = path.resolve().as_uri() + "?mode=ro"
            self._connection = sqlite3.connect(address, uri=True, timeout=BUSY_TIMEOUT_S)
        try:
            with self._explained():
                if self._found_version() < schema.SCHEMA_VERSION:
                    self._connection = _migrated_copy(self._connection)
                self.header = self._read_header()
                self.ending = next(self._read("ending", rows.ending_from_row), None)
        except BaseException:
            self._connection.close()
            raise

    def inputs(self) -> Iterator[tuple[int, Input]]:
        """Give every input with its number, in the order consumed."""
        return self._read("inputs", rows.input_from_row)

    def strokes(self) -> Iterator[StrokeJudged]:
        """Give the judged strokes in the order they were judged."""
        return self._read("strokes", rows.stroke_from_row)

    def intervals(self) -> Iterator[ValidInterval]:
        """Give the valid intervals in the order they were closed."""
        return self._read("intervals", rows.interval_from_row)

    def events(self) -> Iterator[rows.Event]:
        """Give holds gained and lost, brief drifts and cues in the order they were said."""
        return self._read("events", rows.event_from_row)

    def anchors(self) -> Iterator[Anchor]:
        """Give the readings of the wall clock."""
        return self._read("anchors", lambda row: Anchor(*row))

    def damage(self) -> list[str]:
        """Return what SQLite finds wrong with the file's structure, empty = nothing."""
        return soundness.damage(self._connection)

    def close(self) -> None:
        """Close; twice is harmless."""
        self._connection.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        self.close()

    def _read(self, table: str, from_row: Callable[[rows.Row], T]) -> Iterator[T]:
        with self._explained():
            for row in self._connection.execute(schema.SELECTS[table]):
                yield from_row(row)

    def _found_version(self) -> int:
        version = schema.found_version(self._connection)
        if version > schema.SCHEMA_VERSION:
            raise BadInput(
                f"The session {self.folder} has schema version {version}; this program reads up "
                f"to {schema.SCHEMA_VERSION}.",
                "Open it with the program version that recorded it, or a newer one.",
            )
        if version == 0:
            raise self._not_a_session(f"its {schema.FILE_NAME} was not begun by posewatch")
        return version

    def _read_header(self) -> SessionHeader:
        stored = self._connection.execute(schema.SELECTS["meta"])
        kept: dict[str, Any] = {key: json.loads(value) for key, value in stored}
        if kept["format"] != schema.FORMAT:
            raise self._not_a_session(f"it says {kept['format']!r} of itself")
        profile, video = kept["profile"], kept["video"]
        return SessionHeader(
            target=parse_target(kept["target"], f"The target in session {self.folder}"),
            plan=rows.from_document(WatchPlan, kept["plan"]),
            chain=rows.from_document(MeasuringChain, kept["chain"]),
            profile=profile and rows.from_document(CameraProfile, profile),
            stream=rows.from_document(StreamInfo, kept["stream"]),
            settings_text=kept["settings"],
            versions=kept["versions"],
            created=kept["created"],
            sensors=rows.from_document(SensorUse, kept["sensors"]),
            keep_until=kept["keep_until"],
            video=video and rows.from_document(VideoUse, video),
        )

    def _not_a_session(self, cause: str) -> BadInput:
        if not cause:
            return BadInput(
                f"There is no session folder {self.folder}.",
                "Name the folder that `posewatch watch --session` wrote.",
            )
        return BadInput(
            f"{self.folder} is not a session: {cause}.",
            "Name the folder that `posewatch watch --session` wrote.",
        )

    @contextlib.contextmanager
    def _explained(self) -> Iterator[None]:
        try:
            yield
        except (sqlite3.Error, ValueError, TypeError, LookupError) as error:
            raise BadInput(
                f"The session {self.folder} cannot be read ({' '.join(str(error).split())}).",
                f"Check that you may open {schema.FILE_NAME} there; if it is damaged, restore it "
                "from a copy.",
            ) from error


def _migrated_copy(connection: sqlite3.Connection) -> sqlite3.Connection:
    """Return a copy of a session in memory, of the newest schema, and close the original."""
    copy = sqlite3.connect(":memory:")
    try:
        connection.backup(copy)
        with copy:
            schema.migrate(copy)
        copy.execute("PRAGMA query_only = ON")
    except BaseException:
        copy.close()
        raise
    connection.close()
    return copy


def is_session(folder: Path) -> bool:
    """Tell whether a folder is a session's."""
    return (folder / schema.FILE_NAME).is_file()
