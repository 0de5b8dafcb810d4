"""Visits that were left before they ended: found, and told what is left of them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from posewatch.core.records import NS_PER_S
from posewatch.errors import BadInput
from posewatch.store.in_use import is_in_use
from posewatch.store.visit_header import VisitHeader
from posewatch.store.visit_record import is_visit, read_visit
from posewatch.trials.conduct import replay
from posewatch.trials.conduct_state import ConductState


@dataclass(frozen=True, slots=True)
class FoundVisit:
    """A visit as its record has it. last_ns: wall time of its last act, ns since 1970 UTC."""

    folder: Path
    header: VisitHeader
    state: ConductState
    last_ns: int

    @property
    def has_ended(self) -> bool:
        """Whether nothing more is ridden in it."""
        return self.state.ended is not None or self.state.locked is not None

    @property
    def words(self) -> str:
        """How far it went, for people."""
        if not self.state.visit:
            return f"{self.folder}: not begun"
        planned = self.header.plan.visits[self.state.visit - 1].mountings
        n_planned = sum(len(one.trials) for one in planned)
        n_ridden = len({(run.mounting, run.trial) for run in self.state.runs})
        last = datetime.fromtimestamp(self.last_ns / NS_PER_S).astimezone()
        return (
            f"{self.folder}: visit {self.state.visit}, {n_ridden} of {n_planned} trials ridden, "
            f"last {last:%Y-%m-%d %H:%M}"
        )


def look_at(folder: Path) -> FoundVisit:
    """Return how a visit stands; it is not changed.

    Raises:
        BadInput: as ``store.visit_record.read_visit``, or its acts do not follow from one another.
    """
    header, kept = read_visit(folder)
    state = replay(header.plan, (one.act for one in kept))
    return FoundVisit(folder, header, state, kept[-1].wall_ns if kept else 0)


def left_visits(folder: Path) -> list[FoundVisit]:
    """Return the visits in a folder that have not ended, newest first.

    Those that another program has open, or that cannot be read, are left out.
    """
    found = []
    for one in sorted(folder.glob("*")):
        if not is_visit(one) or is_in_use(one):
            continue
        try:
            visit = look_at(one)
        except BadInput:
            continue
        if not visit.has_ended:
            found.append(visit)
    return sorted(found, key=lambda visit: visit.last_ns, reverse=True)
