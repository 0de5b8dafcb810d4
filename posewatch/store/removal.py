"""Deleting a recording with all that was made of it, and nothing else.

What is there is told before anything is deleted. The record itself goes last, so that a deletion
that was cut off can be taken up again.
"""

from __future__ import annotations

import contextlib
import os
import sqlite3
from dataclasses import dataclass
from pathlib import Path

from posewatch.core.video_use import FOLDER
from posewatch.errors import BadInput, PosewatchError
from posewatch.store import schema, visit_schema
from posewatch.store.derived import derived_of
from posewatch.store.in_use import SESSION_LOCK, VISIT_LOCK, is_in_use
from posewatch.store.visit_record import is_visit

RECORDS = {schema.FILE_NAME: schema.FORMAT, visit_schema.FILE_NAME: visit_schema.FORMAT}
LAST = (SESSION_LOCK, VISIT_LOCK, *RECORDS)


@dataclass(frozen=True, slots=True)
class Removal:
    """What deleting a recording takes away.

    files: to be deleted, in this order; folders likewise, after them. kept: made of it, but changed
    by somebody since, or not to be found; they stay.
    """

    folder: Path
    files: tuple[Path, ...]
    folders: tuple[Path, ...]
    kept: tuple[Path, ...]


def plan_removal(folder: Path) -> Removal:
    """Look what belongs to a recording; nothing is deleted.

    Raises:
        BadInput: it is no recording of ours, a part of a visit, or being written.
    """
    _require_ours(folder)
    visit = next((one for one in folder.absolute().parents if is_visit(one)), None)
    if visit is not None:
        raise BadInput(
            f"{folder} is a trial of the visit {visit}.",
            "A visit is deleted as a whole: name its folder.",
        )
    _require_not_in_use(folder)
    inside, folders = _inside(folder)
    derived = [one for place in (folder, *folder.glob("trials/*")) for one in derived_of(place)]
    outside = [one for one in derived if folder.absolute() not in one.path.parents]
    there = [one for one in outside if one.is_as_made]
    return Removal(
        folder,
        (*(one.path for one in there if one.sha256), *inside),
        (*(one.path for one in there if not one.sha256), *folders),
        tuple(one.path for one in outside if one not in there),
    )


def plan_video_removal(folder: Path) -> Removal:
    """Look what videos a recording, or the trials of a visit, have; nothing is deleted.

    Raises:
        BadInput: it is no recording of ours, has no video, or is being written.
    """
    _require_ours(folder)
    _require_not_in_use(folder)
    places = [one / FOLDER for one in (folder, *sorted(folder.glob("trials/*")))]
    videos = [path for path in places if path.is_dir() and not path.is_symlink()]
    if not videos:
        raise BadInput(f"There is no video in {folder}.", "Leave --video out to delete the rest.")
    found = [_inside(video) for video in videos]
    return Removal(
        folder,
        tuple(path for files, _ in found for path in files),
        tuple(path for _, folders in found for path in folders),
        (),
    )


def remove(removal: Removal) -> None:
    """Delete what was planned; a folder that holds something else by now stays.

    Raises:
        BadInput: it is being written by now; nothing is deleted.
        PosewatchError: a file cannot be deleted; those before it are gone.
    """
    _require_not_in_use(removal.folder)
    for path in removal.files:
        try:
            path.unlink(missing_ok=True)
        except OSError as error:
            raise PosewatchError(
                f"{path} cannot be deleted ({error.strerror or error}).",
                "Close what has it open, check your rights there, and delete again.",
            ) from error
    for path in removal.folders:
        with contextlib.suppress(OSError):
            path.rmdir()


def _require_ours(folder: Path) -> None:
    """Refuse a folder without a record that says of itself that it is ours."""
    if folder.is_symlink() or not folder.is_dir():
        raise BadInput(f"{folder} is no folder.", "`posewatch session list` shows the sessions.")
    if any(_format(folder / name) == wanted for name, wanted in RECORDS.items()):
        return
    raise BadInput(
        f"{folder} is no session or visit that posewatch can read.",
        "`posewatch session list` shows those there are; delete a damaged one by hand.",
    )


def _require_not_in_use(folder: Path) -> None:
    if is_in_use(folder) or any(map(is_in_use, folder.glob("trials/*"))):
        raise BadInput(f"{folder} is being written.", "End the watch or visit first.")


def _format(record: Path) -> str:
    """Return what a database says that it is, empty = it is none or says nothing."""
    if not record.is_file():
        return ""
    try:
        address = record.resolve().as_uri() + "?mode=ro"
        with contextlib.closing(sqlite3.connect(address, uri=True)) as connection:
            row = connection.execute("SELECT value FROM meta WHERE key = 'format'").fetchone()
    except sqlite3.Error:
        return ""
    return "" if row is None else str(row[0]).strip('"')


def _inside(folder: Path) -> tuple[list[Path], list[Path]]:
    """Return all files in a folder, its record last, and the folders, innermost first."""
    files: list[Path] = []
    folders: list[Path] = []
    for place, names, found in os.walk(folder, topdown=False):
        here = Path(place)
        # A link to a folder goes as a file: what it leads to is not ours.
        files += [here / name for name in (*found, *(n for n in names if (here / n).is_symlink()))]
        folders.append(here)
    last = [folder / name for name in LAST]
    wal = [Path(f"{path}{end}") for path in last for end in ("-wal", "-shm")]
    first = sorted(path for path in files if path not in last and path not in wal)
    return [*first, *(path for path in (*wal, *last) if path in files)], folders
