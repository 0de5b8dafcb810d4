"""What a visit came to, in words and as a table; items by their codes, no outcome."""

from __future__ import annotations

from collections.abc import Iterator

from rich.table import Table

from posewatch.core.timebase import clock_text, to_s
from posewatch.store.visit_header import VisitHeader
from posewatch.trials.concealment import EARLY_STAMP
from posewatch.trials.conduct_state import ConductState


def trials_table(header: VisitHeader, state: ConductState) -> Table:
    """Return one line a trial as it was ridden."""
    table = Table("mounting", "item", "hands", "strokes", "s", "note")
    slots = {one.number: one.slot for one in state.mounted}
    discarded = {one.number for one in header.plan.mountings if one.familiarisation}
    for run in state.runs:
        notes = [
            "discarded" * (run.mounting in discarded),
            f"broken off: {run.broken_off}" * bool(run.broken_off),
            f"ridden again: {run.repeated}" * bool(run.repeated),
        ]
        table.add_row(
            str(run.mounting),
            header.codes[slots[run.mounting]],
            run.hands,
            str(run.n_confirmed),
            f"{to_s(run.counted_ns):.1f}",
            "; ".join(filter(None, notes)),
        )
    return table


def visit_lines(header: VisitHeader, state: ConductState) -> Iterator[str]:
    """Give what stands above the trials: what is compared, how blind, and where it stands."""
    design = header.plan.design
    mode = "" if design.saddle_mode is None else f" ({design.saddle_mode})"
    yield (
        f"visit {state.visit} of {len(header.plan.visits)}, begun {header.created}: {design.kind}"
        f"{mode}, rider {design.rider}, bike {design.bike}"
    )
    yield f"items {', '.join(header.codes)}; {design.concealment}; {design.stamp}"
    if header.sealed_sha256:
        yield f"code list sealed before the first trial, SHA-256 {header.sealed_sha256}"
    if header.rehearsal:
        yield "a rehearsal: nothing in it counts"
    if header.keep_until:
        yield f"to be kept until {header.keep_until}"


def standing_lines(state: ConductState) -> Iterator[str]:
    """Give what stands below the trials: ratings, guesses, the lock, reveals, the end."""
    asked = sum(one.value is not None for _, one in state.ratings)
    yield f"{asked} ratings of {len({place for place, _ in state.ratings})} trials"
    guesses = [one.guess for one in state.mounted if one.guess is not None]
    if guesses:
        known = sum(one.guess is not None for one in guesses)
        yield f"{len(guesses)} guesses asked, {known} said which"
    if state.ended is None:
        yield "the visit is not over: `posewatch trial run --session` goes on with it"
    else:
        why = f": {state.ended.reason}" if state.ended.reason else ", all was ridden"
        yield f"{clock_text(state.ended.t_ns)}  the visit is over{why}"
    if state.locked is not None:
        yield f"{clock_text(state.locked.t_ns)}  data locked by {state.locked.who}"
    for one in state.reveals:
        stamp = f"; {EARLY_STAMP}" if one.forced else ""
        yield f"{clock_text(one.t_ns)}  codes revealed by {one.who}: {one.why}{stamp}"
