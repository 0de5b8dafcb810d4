"""What a visit came to, as a table."""

from __future__ import annotations

from rich.table import Table

from posewatch.core.timebase import to_s
from posewatch.visiting import Visit


def trials_table(visit: Visit) -> Table:
    """Return one line a trial as it was ridden; items by their codes, no outcome."""
    table = Table("mounting", "item", "hands", "strokes", "s", "note")
    slots = {one.number: one.slot for one in visit.state.mounted}
    discarded = {one.number for one in visit.plan.mountings if one.familiarisation}
    for run in visit.state.runs:
        notes = [
            "discarded" * (run.mounting in discarded),
            f"broken off: {run.broken_off}" * bool(run.broken_off),
            f"ridden again: {run.repeated}" * bool(run.repeated),
        ]
        table.add_row(
            str(run.mounting),
            visit.code(slots[run.mounting]),
            run.hands,
            str(run.n_confirmed),
            f"{to_s(run.counted_ns):.1f}",
            "; ".join(filter(None, notes)),
        )
    return table
