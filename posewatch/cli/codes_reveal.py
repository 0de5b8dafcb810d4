"""``posewatch codes lock|reveal``: lock the data of visits, then open their code list."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from posewatch.cli.codes import SealedFile, ask_hidden, words_of
from posewatch.errors import BadInput

Visits = Annotated[
    list[Path] | None,
    typer.Option("--session", help="Folder of a visit that was ridden with it; again for more."),
]


def lock(
    session: Visits = None,
    who: Annotated[str | None, typer.Option(help="Who locks them.")] = None,
) -> None:
    """Lock the data of visits before the reveal: nothing that counts is changed after it."""
    from posewatch.cli.screen import say
    from posewatch.cli.setup import begin
    from posewatch.visits import revealing

    if not session:
        raise BadInput("It is not said which visits.", "Give --session with each visit's folder.")
    with begin() as settings:
        revealing.lock_data(session, typer.prompt("Who locks") if who is None else who, settings)
    for folder in session:
        say(f"locked {folder}")


def reveal(
    file: SealedFile,
    session: Visits = None,
    who: Annotated[str | None, typer.Option(help="Who reveals.")] = None,
    why: Annotated[str | None, typer.Option(help="Why.")] = None,
    sha256: Annotated[str | None, typer.Option(help="The SHA-256 that was published.")] = None,
    force: Annotated[
        bool,
        typer.Option("--force", help="Reveal although the data are not locked; stamped."),
    ] = False,
) -> None:
    """Open a code list: who and why are logged, then it is shown what stood for what."""
    import logging

    from posewatch.cli.screen import say
    from posewatch.cli.setup import begin
    from posewatch.store.sealed_codes import require_published
    from posewatch.store.sealed_document import read_sealed
    from posewatch.visits import revealing

    with begin() as settings:
        sealed = read_sealed(file)
        if sha256 is not None:
            require_published(sealed, sha256)
        if not session and not force:
            raise BadInput(
                f"{file} belongs to a visit that is not at hand, so nothing says that its data "
                "are locked.",
                "Give --session with each visit's folder; or --force, which is stamped as early.",
            )
        who = typer.prompt("Who reveals") if who is None else who
        why = typer.prompt("Why") if why is None else why
        decided, opened = revealing.reveal(
            sealed, lambda: ask_hidden("Passphrase"), session or (), who, why, force, settings
        )
        logging.getLogger("posewatch").warning(
            "revealed %s, SHA-256 %s, by %s: %s; %s",
            *(
                file.name,
                decided.sha256,
                decided.who,
                decided.why,
                decided.stamp or "after the lock",
            ),
        )
    say(f"revealed {decided.at_utc} by {decided.who}: {decided.why}")
    if decided.stamp:
        say(decided.stamp)
    for slot in opened.slots:
        say(f"{slot.code}  {words_of(slot.item)}  ({slot.card} on the rider's card)")
