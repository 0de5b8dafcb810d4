"""The program's log: a few rotating files per user, with wall and monotonic time in each line."""

from __future__ import annotations

import logging
import sys
import tempfile
import time
from dataclasses import dataclass
from datetime import UTC, datetime
from logging.handlers import RotatingFileHandler
from pathlib import Path

from platformdirs import user_log_path

from posewatch.store.settings import Settings

LOGGER = "posewatch"
FILE_NAME = "posewatch.log"
FILE_BYTES = 2_000_000
OLD_FILES = 4


@dataclass(frozen=True, slots=True)
class Logbook:
    """Where the log goes; path None = nowhere. note: what to tell the person, empty = nothing."""

    path: Path | None
    note: str = ""


def start_log(settings: Settings) -> Logbook:
    """Open the log; a failure is told in the note and never stops the program.

    Where the user's log folder cannot be written to, a new temporary folder takes its place.
    Calling it again closes the earlier log first.
    """
    stop_log()
    logger = logging.getLogger(LOGGER)
    logger.setLevel(settings.log_level.upper())
    wanted = user_log_path("posewatch", appauthor=False)
    try:
        return Logbook(_open(logger, wanted))
    except OSError as error:
        problem = f"The log cannot be written in {wanted} ({error.strerror or error})"
    try:
        path = _open(logger, Path(tempfile.mkdtemp(prefix="posewatch-log-")))
    except OSError:
        logger.addHandler(logging.NullHandler())
        return Logbook(None, f"{problem}; there is no log this time.")
    return Logbook(path, f"{problem}; this time it is {path}.")


def stop_log() -> None:
    """Close the log; without one, nothing happens."""
    logger = logging.getLogger(LOGGER)
    for handler in list(logger.handlers):
        if isinstance(handler, _LogFile | logging.NullHandler):
            logger.removeHandler(handler)
            handler.close()


def _open(logger: logging.Logger, folder: Path) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / FILE_NAME
    handler = _LogFile(path, maxBytes=FILE_BYTES, backupCount=OLD_FILES, encoding="utf-8")
    handler.setFormatter(
        _BothClocks("%(asctime)s %(levelname)s %(threadName)s %(name)s: %(message)s")
    )
    logger.addHandler(handler)
    return path


class _BothClocks(logging.Formatter):
    """Wall time with its offset, then monotonic seconds: the clock of durations."""

    def formatTime(self, record: logging.LogRecord, datefmt: str | None = None) -> str:
        wall = datetime.fromtimestamp(record.created, UTC).astimezone()
        return f"{wall.isoformat(timespec='milliseconds')} {time.monotonic():.3f}"


class _LogFile(RotatingFileHandler):
    """A log file that complains once, in one line, when it can no longer be written."""

    _complained = False

    def handleError(self, record: logging.LogRecord) -> None:
        if not self._complained:
            self._complained = True
            sys.stderr.write(f"The log {self.baseFilename} cannot be written any more.\n")
