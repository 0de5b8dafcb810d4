"""``posewatch plan``: plan a comparison of items; show a plan; say how good it is."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, TypeVar

import typer

if TYPE_CHECKING:
    from enum import StrEnum

    Choice = TypeVar("Choice", bound=StrEnum)

app = typer.Typer(help="Plan a comparison: what is mounted and ridden when; items have no names.")

FILE = "A plan's file."


@app.command("new")
def new(
    kind: Annotated[
        str, typer.Option(help="What is compared: shorts, saddle, insoles and shoes, bar, other.")
    ] = "other",
    saddle: Annotated[
        str | None,
        typer.Option(
            help="For saddles, and stated with the answer: 're-set to the same position' or "
            "'swap as it comes'; the first word is enough."
        ),
    ] = None,
    items: Annotated[int, typer.Option(help="How many items, 2 to 8.")] = 2,
    mountings: Annotated[
        int | None,
        typer.Option(
            help="Counted mountings of each item; 3 for a first look, 6 for a full answer."
        ),
    ] = None,
    full: Annotated[
        bool,
        typer.Option(
            "--full", help="A full answer: 6 mountings of each item, over 2 visits, unless said."
        ),
    ] = False,
    visits: Annotated[int | None, typer.Option(help="Over how many visits.")] = None,
    hands: Annotated[
        list[str] | None,
        typer.Option(
            help="A hand position ridden in each mounting; may be repeated; hoods unless said."
        ),
    ] = None,
    order: Annotated[
        str | None,
        typer.Option(
            help="Order of the items: reversed pairs, Williams squares, randomised blocks; the "
            "first word is enough. Reversed pairs for 2 items, else Williams."
        ),
    ] = None,
    concealment: Annotated[
        str,
        typer.Option(
            help="readings hidden, item covered, operator blind too; the first word is enough."
        ),
    ] = "readings hidden",
    rider: Annotated[str, typer.Option(help="Rider's code, as in the target.")] = "rider",
    bike: Annotated[str, typer.Option(help="Which bike, as in the target.")] = "bike",
    strokes: Annotated[int, typer.Option(help="Counted strokes of a trial.")] = 60,
    warm_up: Annotated[float, typer.Option(help="Seconds of warm-up on own gear.")] = 600.0,
    sit_in: Annotated[float, typer.Option(help="Seconds of sit-in after a mounting.")] = 180.0,
    hand_change: Annotated[
        float, typer.Option(help="Seconds of sit-in after a change of hands.")
    ] = 45.0,
    item_rest: Annotated[
        float, typer.Option(help="Seconds an item is off load before it is ridden again.")
    ] = 600.0,
    power: Annotated[float | None, typer.Option(help="Power to hold, in W.")] = None,
    cadence: Annotated[float | None, typer.Option(help="Cadence to hold, in rpm.")] = None,
    familiarisation: Annotated[
        bool,
        typer.Option(
            "--familiarisation/--no-familiarisation",
            help="One mounting first that is discarded.",
        ),
    ] = True,
    seed: Annotated[
        int | None, typer.Option(help="Seed of the order; the same seed gives the same plan.")
    ] = None,
    output: Annotated[
        Path | None, typer.Option("-o", "--output", help="New file to keep the plan in.")
    ] = None,
) -> None:
    """Plan a comparison, print the plan, and keep it with -o."""
    import secrets

    from posewatch.cli.plan_words import describe
    from posewatch.cli.screen import say
    from posewatch.cli.setup import begin, require_new_file
    from posewatch.store.plan_file import write_plan
    from posewatch.store.target_shelf import require_names
    from posewatch.trials import plan as planning
    from posewatch.trials.orders import LARGEST_SEED
    from posewatch.trials.words import ComparisonKind, ConcealmentLevel, OrderKind, SaddleMode

    require_new_file(output)
    usual = (
        (planning.FULL_ANSWER_PAIRS, planning.FULL_ANSWER_VISITS)
        if full
        else (planning.FIRST_LOOK_PAIRS, 1)
    )
    held = tuple(hands or ("hoods",))
    for one in held:
        require_names(rider, bike, one)
    design = planning.Design(
        kind=_choice("--kind", kind, ComparisonKind),
        saddle_mode=None if saddle is None else _choice("--saddle", saddle, SaddleMode),
        concealment=_choice("--concealment", concealment, ConcealmentLevel),
        rider=rider,
        bike=bike,
        n_items=items,
        mountings=usual[0] if mountings is None else mountings,
        n_visits=usual[1] if visits is None else visits,
        hands=held,
        order=planning.default_order(items)
        if order is None
        else _choice("--order", order, OrderKind),
        seed=secrets.randbelow(LARGEST_SEED + 1) if seed is None else seed,
        familiarisation=familiarisation,
        goal_strokes=strokes,
        warm_up_s=warm_up,
        sit_in_s=sit_in,
        hand_change_s=hand_change,
        item_rest_s=item_rest,
        power_w=power,
        cadence_rpm=cadence,
    )
    with begin():
        plan = planning.make_plan(design)
        if output is not None:
            plan = write_plan(plan, output)
    describe(plan)
    say(
        f"not kept; -o FILE keeps it, and --seed {design.seed} plans the same again"
        if output is None
        else f"wrote {output}"
    )


@app.command("show")
def show(file: Annotated[Path, typer.Argument(help=FILE)]) -> None:
    """Show a plan: what is held, what is ridden when, and the mounting check list."""
    from posewatch.cli.plan_words import describe, show_check_list
    from posewatch.cli.setup import begin
    from posewatch.store.plan_file import read_plan

    with begin():
        plan = read_plan(file)
    describe(plan)
    show_check_list(plan)


@app.command("check")
def check(file: Annotated[Path, typer.Argument(help=FILE)]) -> None:
    """Say how even a plan is, what it can show, and how long it takes."""
    from posewatch.cli.plan_check import say_balance, say_detectable, say_duration
    from posewatch.cli.plan_words import say_stamp
    from posewatch.cli.setup import begin
    from posewatch.store.plan_file import read_plan

    with begin():
        plan = read_plan(file)
    say_stamp(plan)
    say_balance(plan)
    say_detectable(plan)
    say_duration(plan)


def _choice(option: str, text: str, choices: type[Choice]) -> Choice:
    """Return the one choice that begins with what was typed; hyphens and spaces do not matter."""
    from posewatch.errors import BadInput

    def plain(words: str) -> str:
        return "".join(letter for letter in words.casefold() if letter.isalnum())

    found = [one for one in choices if plain(text) and plain(one).startswith(plain(text))]
    if len(found) != 1:
        raise BadInput(f"{option} cannot be {text!r}.", f"Choose of: {', '.join(choices)}.")
    return found[0]
