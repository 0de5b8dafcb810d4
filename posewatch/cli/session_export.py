"""``posewatch session export``: give out what was recorded, as open files."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from posewatch.export.recorded import Recorded
    from posewatch.trials.code_list import CodeList


def export(
    folders: Annotated[
        list[Path],
        typer.Argument(
            metavar="FOLDER...", help="A watch's folder, a visit's, or those of one plan's visits."
        ),
    ],
    into: Annotated[Path, typer.Option("--output", "-o", help="New folder for the files.")],
    parquet: Annotated[
        bool, typer.Option("--parquet", help="Parquet beside the CSV; needs the extra parquet.")
    ] = False,
    code_list: Annotated[
        Path | None,
        typer.Option(
            help="Sealed code list, to add the items' names once its reveal is in the record; asks "
            "for the passphrase."
        ),
    ] = None,
) -> None:
    """Export strokes, valid intervals, answers and marks as CSV, with a description of it all.

    Items go by their codes.
    """
    from posewatch.cli.screen import say
    from posewatch.cli.setup import begin
    from posewatch.export.description import stamps
    from posewatch.export.exporting import export as give_out
    from posewatch.export.exporting import note_export
    from posewatch.export.folder import DESCRIPTION, require_free, require_parquet
    from posewatch.export.recorded import read_recorded

    with begin():
        require_free(into)
        if parquet:
            require_parquet()
        recorded = read_recorded(folders)
        names = None if code_list is None else _opened(recorded, code_list)
        tables = give_out(recorded, into, parquet=parquet, names=names)
        try:
            note_export(recorded, into)
        except OSError as error:
            say(f"not noted in the recording ({error}): deleting that will leave {into}")
        for table in tables:
            say(f"{table.name:16} {len(table.rows):7} rows, {table.about}")
        for stamp in stamps(recorded):
            say(f"[{stamp}]")
        say(_counted(recorded))
        say(f"exported to {into}; {DESCRIPTION} says what every column means")


def _counted(recorded: Recorded) -> str:
    """Say how many strokes count, and why the others do not."""
    from collections import Counter

    from posewatch.export.exclusions import excluded

    left_out: Counter[str] = Counter()
    n_strokes = 0
    for trial in recorded.trials:
        if trial.watched is not None:
            n_strokes += len(trial.watched.strokes)
            left_out.update(excluded(trial.watched))
    reasons = "".join(f"; {n} {why}" for why, n in left_out.most_common())
    n_trials = len(recorded.trials)
    trials = "1 trial" if n_trials == 1 else f"{n_trials} trials"
    return f"{n_strokes - left_out.total()} of {n_strokes} strokes count in {trials}{reasons}"


def _opened(recorded: Recorded, path: Path) -> CodeList:
    """Ask for the passphrase of a code list whose reveal was logged; return what it holds."""
    import sys

    from posewatch.export.exporting import require_revealed
    from posewatch.store.sealed_codes import open_sealed
    from posewatch.store.sealed_document import read_sealed

    sealed = read_sealed(path)
    require_revealed(recorded, sealed.sha256)
    passphrase = typer.prompt(
        "Passphrase", default="", show_default=False, hide_input=sys.stdin.isatty()
    )
    return open_sealed(sealed, passphrase)
