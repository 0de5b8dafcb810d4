"""What a person reads of a plan: what was asked, what is ridden when, the check list."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from posewatch.trials.plan import Design, Plan

_CONCEALED = {
    "readings hidden": "the rider sees no outcome",
    "item covered": "the rider sees no outcome and does not know which item is mounted",
    "operator blind too": "neither rider nor operator knows which item is mounted; somebody else "
    "mounts",
}


def describe(plan: Plan) -> None:
    """Print a plan: its stamp, what is held, and the mountings in their order."""
    from rich.table import Table

    from posewatch.cli.screen import say, show_table
    from posewatch.trials.words import item_words

    say_stamp(plan)
    _say_design(plan.design)
    if plan.created:
        say(f"kept {plan.created[:16].replace('T', ' ')}")
    table = Table("visit", "mounting", "block", "item", "hand positions, in this order")
    for visit in plan.visits:
        for one in visit.mountings:
            table.add_row(
                str(visit.number),
                str(one.number),
                "discarded" if one.block is None else str(one.block),
                item_words(one.slot),
                ", ".join(trial.hands for trial in one.trials),
            )
    show_table(table)
    if plan.design.familiarisation:
        say("mounting 1 is for getting used to it: ridden like the others, then discarded")


def say_stamp(plan: Plan) -> None:
    """Print what an answer of the plan may be called, and why."""
    from posewatch.cli.screen import say
    from posewatch.trials.plan import FULL_ANSWER_PAIRS, FULL_ANSWER_VISITS
    from posewatch.trials.words import Stamp

    design = plan.design
    extent = f"{pairs(design)} in {number(design.n_visits, 'visit')}"
    if design.stamp is Stamp.FULL_ANSWER:
        say(f"{design.stamp}: {extent}")
        return
    say(
        f"first look, {design.stamp}: {extent}; a full answer takes {FULL_ANSWER_PAIRS} or more "
        f"over {FULL_ANSWER_VISITS} visits or more"
    )


def pairs(design: Design) -> str:
    """Return how many pairs a plan has; with more than two items, of any two of them."""
    words = number(design.mountings, "pair")
    return words if design.n_items == 2 else f"{words} of any two items"


def number(n: int, what: str) -> str:
    """Return a number of things."""
    return f"{n} {what}" if n == 1 else f"{n} {what}s"


def _say_design(design: Design) -> None:
    from posewatch.cli.screen import say
    from posewatch.trials.kinds import kind_defaults

    mode = "" if design.saddle_mode is None else f", {design.saddle_mode}"
    say(
        f"{design.kind}{mode}: {design.n_items} items, each mounted "
        f"{number(design.mountings, 'time')}, {design.order}, seed {design.seed}"
    )
    say(f"targets: {', '.join(f'{design.rider}/{design.bike}/{one}' for one in design.hands)}")
    kind = kind_defaults(design.kind, design.saddle_mode)
    if kind.outcomes:
        words = " and ".join(kind.outcomes)
        say(f"{words}: the item itself may move it, so it is an outcome and not held")
    if kind.saddle_untouched:
        say("the saddle stays untouched from first to last")
    if kind.stack_height_logged:
        say("stack height is logged with each mounting")
    say(f"concealment: {design.concealment}: {_CONCEALED[design.concealment]}")
    say(
        f"each trial {number(design.goal_strokes, 'counted stroke')}; warm-up "
        f"{design.warm_up_s:g} s on own gear, sit-in {design.sit_in_s:g} s after a mounting, "
        f"{design.hand_change_s:g} s after a change of hands; an item rests {design.item_rest_s:g} "
        "s off load before it is ridden again"
    )
    power = "not held" if design.power_w is None else f"{design.power_w:g} W"
    cadence = "not held" if design.cadence_rpm is None else f"{design.cadence_rpm:g} rpm"
    say(f"power {power}, cadence {cadence}")


def show_check_list(plan: Plan) -> None:
    """Print what is gone through after each mounting."""
    from rich.table import Table

    from posewatch.cli.screen import say, show_table
    from posewatch.trials.kinds import Entry, kind_defaults

    say("after each mounting; each line may be skipped with a reason, which is logged")
    table = Table("mounting check list", "entered")
    for line in kind_defaults(plan.design.kind, plan.design.saddle_mode).check_list:
        table.add_row(line.text, line.unit if line.entry is Entry.NUMBER else line.entry)
    show_table(table)
