"""``posewatch codes seal|check``: seal which code stands for which item, check the file.

Names of items are asked for or read from standard input, never taken as arguments: a shell keeps
those in its history. On a terminal they are typed and shown on a screen of their own, which is gone
afterwards.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from posewatch.errors import BadInput

if TYPE_CHECKING:
    from posewatch.trials.code_list import CodeList, Item

app = typer.Typer(help="Seal which code stands for which item; check the file; reveal it.")

SealedFile = Annotated[Path, typer.Argument(help="A sealed code list.")]
#: Between an item's name and its description, where there is one.
SEPARATOR = " | "


@app.command("seal")
def seal(
    plan: Annotated[Path, typer.Option(help="The plan's file.")],
    output: Annotated[Path, typer.Option("--output", "-o", help="New file for the code list.")],
    items: Annotated[
        str | None,
        typer.Option(
            help="Only as '--items -': read the names from standard input, one a line, each with "
            "' | ' and a description or without."
        ),
    ] = None,
    own_passphrase: Annotated[
        bool, typer.Option("--own-passphrase", help="Type a passphrase instead of getting one.")
    ] = False,
    labels: Annotated[
        bool,
        typer.Option(
            "--labels", help="Print which label goes onto which item also where no terminal is."
        ),
    ] = False,
) -> None:
    """Name the items, draw their codes, and seal which is which."""
    import logging
    import secrets
    from datetime import UTC, datetime

    from posewatch.cli.screen import say
    from posewatch.cli.setup import begin, require_new_file
    from posewatch.store.passphrase import new_passphrase
    from posewatch.store.plan_file import read_plan
    from posewatch.store.sealed_codes import seal as sealed_bytes
    from posewatch.store.sealed_codes import write_sealed
    from posewatch.store.sealed_document import sha256_of
    from posewatch.trials.code_list import make_code_list
    from posewatch.trials.concealment import require_nothing_named
    from posewatch.trials.words import item_words

    if items not in (None, "-"):
        raise BadInput(
            "Names of items do not belong on the command line: the shell keeps it.",
            "Leave --items out and be asked, or give '--items -' and the names on standard input.",
        )
    if items and own_passphrase:
        raise BadInput(
            "Names and passphrase cannot both come from standard input.",
            "Leave out --items or --own-passphrase.",
        )
    require_new_file(output)
    with begin():
        n_items = read_plan(plan).design.n_items
        plan_bytes = plan.read_bytes()
        passphrase = _own_passphrase() if own_passphrase else new_passphrase()
        named = _read_items() if items else _ask_items(n_items)
        if len(named) != n_items:
            raise BadInput(
                f"The plan compares {n_items} items, and {len(named)} are named.",
                "Name as many as the plan has, or make another plan.",
            )
        created = datetime.now(UTC).isoformat(timespec="seconds")
        made = make_code_list(named, sha256_of(plan_bytes), created, secrets.SystemRandom())
        require_nothing_named(made, f"{plan_bytes.decode('utf-8')} {plan.name} {output.name}")
        data = sealed_bytes(made, passphrase)
        write_sealed(data, output)
        logging.getLogger("posewatch").info("sealed %s, SHA-256 %s", output.name, sha256_of(data))
    say(f"sealed {output}")
    for slot, code in enumerate(made.codes):
        say(f"{item_words(slot)} of the plan  {code}")
    say(f"SHA-256  {sha256_of(data)}")
    if not own_passphrase:
        say(f"passphrase  {passphrase}")
        say("It is shown this once. Print it or write it down, and put it away until the reveal.")
    if _at_a_terminal():
        with _screen_of_its_own():
            _show_labels(made)
            typer.prompt("Enter when all labels are on", default="", show_default=False)
    elif labels:
        _show_labels(made)
    else:
        typer.echo(
            "Which label goes onto which item is shown on a terminal only; --labels prints it.",
            err=True,
        )


@app.command("check")
def check(
    file: SealedFile,
    sha256: Annotated[str | None, typer.Option(help="The SHA-256 that was published.")] = None,
    plan: Annotated[Path | None, typer.Option(help="The plan that it should belong to.")] = None,
) -> None:
    """Tell whether a sealed code list is intact, and the published one; needs no passphrase."""
    from posewatch.cli.screen import say
    from posewatch.cli.setup import begin
    from posewatch.store.plan_file import read_plan
    from posewatch.store.sealed_codes import require_published
    from posewatch.store.sealed_document import read_sealed, sha256_of

    with begin():
        sealed = read_sealed(file)
        if sha256 is not None:
            require_published(sealed, sha256)
        if plan is not None:
            read_plan(plan)
            if sha256_of(plan.read_bytes()) != sealed.plan_sha256:
                raise BadInput(
                    f"{file} was sealed for another plan than {plan}.",
                    "Find the plan it was sealed for, or seal a list for this plan.",
                )
    say(f"{file} is intact, sealed {sealed.created}, codes {', '.join(sealed.codes)}")
    if plan is not None:
        say(f"it belongs to {plan}")
    if sha256 is None:
        say(f"SHA-256  {sealed.sha256}: compare it with the published one")
    else:
        say("its SHA-256 is the published one")


def _ask_items(n_items: int) -> list[Item]:
    from posewatch.cli.screen import say
    from posewatch.trials.code_list import CARD_LETTERS

    with _screen_of_its_own():
        say(f"Name the {n_items} items; '{SEPARATOR}' may stand before a description.")
        return [_item(typer.prompt(f"Item {letter}")) for letter in CARD_LETTERS[:n_items]]


def _read_items() -> list[Item]:
    try:
        lines = sys.stdin.read().removeprefix("\ufeff").splitlines()
    except UnicodeDecodeError as error:
        raise BadInput("The items' names are no text.", "Give them in UTF-8.") from error
    return [_item(line) for line in lines if line.strip()]


def _item(line: str) -> Item:
    from posewatch.trials.code_list import Item

    name, _, description = line.partition(SEPARATOR)
    return Item(name, description)


def _own_passphrase() -> str:
    from posewatch.store.passphrase import require_passphrase

    return require_passphrase(ask_hidden("Passphrase", "The same again"))


def ask_hidden(what: str, again: str = "") -> str:
    """Ask without showing what is typed, twice if need be; from a pipe, lines are read."""
    answer = typer.prompt(
        what,
        default="",
        show_default=False,
        hide_input=sys.stdin.isatty(),
        confirmation_prompt=again or False,
    )
    assert isinstance(answer, str)
    return answer


def _show_labels(made: CodeList) -> None:
    """Print which label goes onto which item, in the order in which items were named."""
    from posewatch.cli.screen import say

    say("Labels, and the letters for the rider's card:")
    for slot in made.as_named:
        say(f"  label {slot.code} goes onto {slot.card}, {words_of(slot.item)}")


def words_of(item: Item) -> str:
    return f"{item.name}, {item.description}" if item.description else item.name


def _at_a_terminal() -> bool:
    from posewatch.cli.screen import console

    return console.is_terminal and sys.stdin.isatty()


@contextmanager
def _screen_of_its_own() -> Iterator[None]:
    """On a terminal, what is typed and shown inside is not to be scrolled back to afterwards."""
    from posewatch.cli.screen import console

    changed = console.set_alt_screen(True)
    try:
        if changed:
            console.clear()
        yield
    finally:
        if changed:
            console.set_alt_screen(False)
