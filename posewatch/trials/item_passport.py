"""An item's passport: what was measured of it on the bench and how long it was ridden, over visits.

Visits belong together where their codes mean the same: one sealed code list, or, where items are
not concealed, one plan.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from posewatch.errors import BadInput
from posewatch.trials.acts import Act, Gauged, ItemFact
from posewatch.trials.bench_readings import Hardness, hardness


class Fact(StrEnum):
    """What is kept of an item; washes and hours ridden are totals since it was new."""

    THICKNESS = "thickness"
    WEIGHT = "weight"
    DRYING_TIME = "drying time"
    WASHES = "washes"
    HOURS_RIDDEN = "hours ridden"


UNITS = {
    Fact.THICKNESS: "mm",
    Fact.WEIGHT: "g",
    Fact.DRYING_TIME: "h",
    Fact.WASHES: "1",
    Fact.HOURS_RIDDEN: "h",
}
#: These only ever grow.
TOTALS = frozenset((Fact.WASHES, Fact.HOURS_RIDDEN))
MOST = 100_000.0


@dataclass(frozen=True, slots=True)
class BenchRecord:
    """What one visit's record says of its items.

    belongs_to: SHA-256 of the sealed code list, or of the plan where items are not concealed.
    codes: all of them. acts: with the wall time of each, ns since 1970 UTC. ridden_ns: time in
    trials, by code.
    """

    belongs_to: str
    codes: tuple[str, ...]
    acts: tuple[tuple[int, Act], ...]
    ridden_ns: Mapping[str, int]


@dataclass(frozen=True, slots=True)
class Entry:
    """One value of a fact, and when it was kept (wall time, ns since 1970 UTC)."""

    wall_ns: int
    value: float


@dataclass(frozen=True, slots=True)
class Passport:
    """What is known of one item.

    facts: each with its values in the order of time. gauged: likewise. ridden_ns: time in trials
    of these visits, which ``hours ridden`` need not contain. warnings: for people; what cannot be
    is left out and named there.
    """

    code: str
    facts: Mapping[Fact, tuple[Entry, ...]]
    gauged: tuple[tuple[int, Hardness], ...]
    ridden_ns: int
    warnings: tuple[str, ...]

    def latest(self, fact: Fact) -> float | None:
        """Return the newest value of a fact, None = never measured."""
        entries = self.facts.get(fact, ())
        return entries[-1].value if entries else None


def require_fact(act: ItemFact) -> None:
    """Refuse a fact that cannot be.

    Raises:
        BadInput: an unknown fact, or a value that it cannot have.
    """
    if act.fact not in tuple(Fact):
        raise BadInput(f"'{act.fact}' is no fact of an item.", f"Give one of: {', '.join(Fact)}.")
    unit = UNITS[Fact(act.fact)]
    if not 0.0 <= act.value <= MOST or math.isinf(act.value):
        raise BadInput(
            f"The {act.fact} of an item cannot be {act.value:g}.", f"Give 0 to {MOST:g} {unit}."
        )
    if act.fact == Fact.WASHES and act.value % 1:
        raise BadInput(f"An item cannot have had {act.value:g} washes.", "Give a whole number.")


def passports(records: Sequence[BenchRecord]) -> tuple[Passport, ...]:
    """Return the passport of each item, in the order of the codes.

    Raises:
        BadInput: the visits' codes do not belong together.
    """
    if not records:
        return ()
    first = records[0]
    for other in records[1:]:
        if (other.belongs_to, other.codes) != (first.belongs_to, first.codes):
            raise BadInput(
                "These visits do not share one code list, so the same code may be another item.",
                "Take visits of one plan and one sealed code list together.",
            )
    acts = sorted((pair for record in records for pair in record.acts), key=lambda pair: pair[0])
    return tuple(
        _passport(code, acts, sum(record.ridden_ns.get(code, 0) for record in records))
        for code in first.codes
    )


def _passport(code: str, acts: Sequence[tuple[int, Act]], ridden_ns: int) -> Passport:
    facts: dict[Fact, tuple[Entry, ...]] = {}
    gauged, warnings = [], []
    for wall_ns, act in acts:
        if not isinstance(act, Gauged | ItemFact) or act.code != code:
            continue
        try:
            if isinstance(act, Gauged):
                gauged.append((wall_ns, hardness(act)))
                continue
            require_fact(act)
        except BadInput as problem:
            warnings.append(f"left out: {problem.what}")
            continue
        fact = Fact(act.fact)
        earlier = facts.get(fact, ())
        if fact in TOTALS and earlier and act.value < earlier[-1].value:
            warnings.append(f"{fact} fell from {earlier[-1].value:g} to {act.value:g}")
        facts[fact] = (*earlier, Entry(wall_ns, act.value))
    return Passport(code, facts, tuple(gauged), ridden_ns, tuple(warnings))
