"""What a person reads of how good a plan is: balance, what it can show, how long it takes."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from posewatch.trials.balance import Balance
    from posewatch.trials.plan import Design, Plan


def say_balance(plan: Plan) -> None:
    """Print how evenly items come at each place and after each other, and what drift leaves."""
    from posewatch.cli.screen import say
    from posewatch.trials.balance import balance

    found = balance(plan)
    _show_places(found)
    say(
        "Each item comes equally often at each place of a block."
        if found.even_places
        else "Items do not come equally often at each place of a block."
    )
    _say_drift(plan.design, found)
    _show_neighbours(found)
    _say_neighbours(plan.design, found)
    _say_hands(plan.design)


def _show_places(found: Balance) -> None:
    from rich.table import Table

    from posewatch.cli.screen import show_table
    from posewatch.trials.words import item_words

    table = Table("place in block", *(str(1 + place) for place in range(len(found.places))))
    table.add_column("mean place in visit")
    for slot, counts in enumerate(found.places):
        table.add_row(item_words(slot), *map(str, counts), f"{found.visit_places[slot]:.2f}")
    show_table(table)


def _show_neighbours(found: Balance) -> None:
    from rich.table import Table

    from posewatch.cli.screen import show_table
    from posewatch.trials.words import item_words

    table = Table("next in block: item", *(str(1 + slot) for slot in range(len(found.follows))))
    for slot, counts in enumerate(found.follows):
        table.add_row(
            item_words(slot), *("-" if i == slot else str(n) for i, n in enumerate(counts))
        )
    show_table(table)


def _say_drift(design: Design, found: Balance) -> None:
    from posewatch.cli.screen import say
    from posewatch.trials.orders import blocks_to_cancel_drift

    if found.drift_cancels:
        say("A steady drift through a visit cancels out of the difference between items.")
        return
    blocks = blocks_to_cancel_drift(design.order, design.n_items)
    say(
        "A steady drift does not cancel out: up to "
        f"{found.drift_share:.2f} of what it changes from one mounting to the next stays in the "
        f"difference between two items. {_remedy(blocks)}"
    )


def _say_neighbours(design: Design, found: Balance) -> None:
    from posewatch.cli.plan_words import number
    from posewatch.cli.screen import say
    from posewatch.trials.orders import blocks_to_even_neighbours

    least, most = found.follow_counts
    if least == most:
        say(f"Inside blocks each item directly follows each other one {number(most, 'time')}.")
    else:
        blocks = blocks_to_even_neighbours(design.order, design.n_items)
        say(
            f"Inside blocks an item directly follows another {least} to {most} times: what one "
            f"mounting leaves for the next does not touch all items alike. {_remedy(blocks)}"
        )
    if found.repeats:
        say(
            f"At {number(found.repeats, 'border')} between blocks an item is mounted twice "
            "running: afresh all the same, after its rest."
        )


def _remedy(blocks: int | None) -> str:
    if blocks is None:
        return "Only Williams squares, complete, are sure to do so."
    return f"With {blocks} mountings of each item, or a multiple of that, it does."


def _say_hands(design: Design) -> None:
    from posewatch.cli.screen import say

    if len(design.hands) < 2:
        return
    say(
        "Hand positions are ridden in reversed order from block to block, and alike inside a "
        "block, so that their order does not touch the difference between items."
    )


def say_detectable(plan: Plan) -> None:
    """Print what difference the pairs can show."""
    from posewatch.cli.plan_words import pairs
    from posewatch.cli.screen import say
    from posewatch.trials.detectable import (
        ALPHA,
        POWER,
        detectable_difference,
        pairs_needed,
        smallest_p,
    )
    from posewatch.trials.plan import FULL_ANSWER_PAIRS

    design = plan.design
    shown = detectable_difference(design.mountings)
    if shown is None:
        say("One pair shows no difference: there is no scatter to hold it against.")
    else:
        say(
            f"{pairs(design)} can show a difference of {shown:.1f} SD (of the differences "
            f"from pair to pair) or more: with {POWER * 100:.0f} % power, paired t test, "
            f"two-sided at {ALPHA:g}."
        )
    say(
        f"A difference of 1 SD takes {pairs_needed(1.0)} pairs, one of half an SD "
        f"{pairs_needed(0.5)}."
    )
    p = smallest_p(design.mountings)
    say(
        f"The exact sign-flip test can at best give p = {p:.2g}"
        + (
            "."
            if p <= ALPHA
            else f", never {ALPHA:g}; for that it takes {FULL_ANSWER_PAIRS} pairs."
        )
    )
    if design.n_items > 2:
        n = design.n_items * (design.n_items - 1) // 2
        say(
            f"{design.n_items} items make {n} comparisons; these figures are for one of them, "
            "each takes more once corrected for all."
        )


def say_duration(plan: Plan) -> None:
    """Print how long each visit is expected to take, and what that is made of."""
    from rich.table import Table

    from posewatch.cli.screen import say, show_table
    from posewatch.trials import duration
    from posewatch.trials.kinds import kind_defaults

    design = plan.design
    visits = duration.expected_duration(plan)
    table = Table("minutes")
    for one in visits:
        table.add_column(f"visit {one.visit}", justify="right")
    for share in duration.Share:
        seconds = [one.seconds[share] for one in visits]
        if any(seconds):
            table.add_row(share, *(f"{value / 60:.1f}" for value in seconds))
    table.add_section()
    table.add_row("in all", *(f"{one.total_s / 60:.0f}" for one in visits))
    show_table(table)
    longest = max(visits, key=lambda one: one.total_s)
    hours, minutes = divmod(round(longest.total_s / 60), 60)
    which = "The visit" if len(visits) == 1 else f"The longest visit, {longest.visit},"
    say(f"{which} is expected to take {hours} h {minutes:02} min.")
    work_s = kind_defaults(design.kind, design.saddle_mode).work_s
    cadence = "" if design.cadence_rpm else f"{duration.ASSUMED_CADENCE_RPM:g} rpm, "
    say(
        f"Assumed, not planned: {cadence}{work_s / 60:g} min to mount and go through the check "
        f"list, {duration.ASSUMED_YIELD * 100:.0f} % of strokes counting, "
        f"{duration.ASSUMED_RESET_S:g} s for each reset, {duration.ASSUMED_RATING_S:g} s of "
        "ratings a mounting."
    )
