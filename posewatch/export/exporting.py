"""From what was recorded to a folder of open files."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from posewatch.errors import BadInput
from posewatch.export.columns import Table
from posewatch.export.description import describe
from posewatch.export.folder import write_folder
from posewatch.export.item_tables import item_tables
from posewatch.export.recorded import Recorded
from posewatch.export.ride_tables import ride_tables
from posewatch.export.visit_tables import marks_table, visit_tables
from posewatch.store.derived import note_derived
from posewatch.trials.code_list import CodeList


def export(
    recorded: Recorded, into: Path, *, parquet: bool = False, names: CodeList | None = None
) -> tuple[Table, ...]:
    """Give out what was recorded as tables with a description, in a new folder; return the tables.

    names: the opened code list; None = items go by their codes.

    Raises:
        BadInput: ``into`` exists or cannot be written, or the library for Parquet is missing.
    """
    tables = tables_of(recorded, names)
    created = datetime.now(UTC).isoformat(timespec="seconds")
    description = describe(recorded, tables, created, named=names is not None)
    write_folder(into, tables, description, parquet=parquet)
    return tables


def tables_of(recorded: Recorded, names: CodeList | None = None) -> tuple[Table, ...]:
    """Return all tables; those of visits only where there are any."""
    ridden = (*ride_tables(recorded), marks_table(recorded))
    if not recorded.visits:
        return ridden
    return *ridden, *visit_tables(recorded), *item_tables(recorded, names)


def note_export(recorded: Recorded, into: Path) -> None:
    """Note in each recording what was made of it, so that it is deleted with the recording.

    Raises:
        OSError: a recording's folder cannot be written to.
    """
    folders = [visit.folder for visit in recorded.visits] or [
        trial.watched.folder for trial in recorded.trials if trial.watched is not None
    ]
    for folder in folders:
        note_derived(folder, sorted(into.iterdir()), into)


def require_revealed(recorded: Recorded, sha256: str) -> None:
    """Refuse names of items before the reveal of this very code list is in a visit's record.

    sha256: of the sealed code list.

    Raises:
        BadInput: it is not the visits' one, or its reveal was not logged.
    """
    published = {visit.header.sealed_sha256 for visit in recorded.visits}
    if sha256 not in published:
        raise BadInput(
            f"The code list with SHA-256 {sha256} is not the one that these visits began with.",
            "Give the sealed file that was published before the first trial.",
        )
    reveals = {reveal.sha256 for visit in recorded.visits for reveal in visit.state.reveals}
    if sha256 not in reveals:
        raise BadInput(
            "The codes of these visits were not revealed yet.",
            "Reveal them first, which is logged; or export without the code list: codes are enough "
            "to work with.",
        )
