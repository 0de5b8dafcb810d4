"""Where a visit stands, and what its plan says of that place."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from posewatch.core.outputs import Phase
from posewatch.errors import BadInput
from posewatch.trials import acts
from posewatch.trials.plan import Plan, PlannedMounting, PlannedTrial, PlannedVisit
from posewatch.trials.words import RITUAL


class TrialPhase(StrEnum):
    """Where a trial is. READY: it is watched, and the reset is under way."""

    PLANNED = "planned"
    READY = "ready"
    SIT_IN = "sit-in"
    STEADYING = "steadying"
    COUNTING = "counting"
    WAITING = "waiting"
    REACHED = "reached"
    CLOSED = "closed"


class StartNeed(StrEnum):
    """What a trial needs; the reset once it has begun, everything else before."""

    CODES = "code list"
    WARM_UP = "warm-up"
    MOUNTING = "mounting"
    REST = "rest of the item"
    CHECK_LIST = "check list"
    TARGET = "target"
    RATINGS = "ratings"
    GUESS = "guess"
    RESET = "reset"


@dataclass(frozen=True, slots=True)
class Run:
    """One riding of a planned trial.

    mounting: its number in the plan. trial: its number in the mounting. attempt: from 1. folder: of
    its log. hold: as last told. waiting: why it waits, empty = it does not. ended_ns: None = under
    way. broken_off: why, empty = it was not. repeated: why it is ridden again, empty = it stands.
    """

    mounting: int
    trial: int
    attempt: int
    hands: str
    folder: str
    begun_ns: int
    phase: TrialPhase = TrialPhase.READY
    hold: Phase = Phase.SIT_IN
    n_confirmed: int = 0
    counted_ns: int = 0
    waiting: str = ""
    ended_ns: int | None = None
    broken_off: str = ""
    repeated: str = ""


@dataclass(frozen=True, slots=True)
class Mounted:
    """One mounting as it was done. lines: what the check list says, in the order it was done."""

    number: int
    slot: int
    begun_ns: int
    ended_ns: int | None = None
    lines: tuple[acts.LineDone | acts.LineSkipped, ...] = ()
    guess: acts.Guessed | None = None
    skipped: str = ""


@dataclass(frozen=True, slots=True)
class ConductState:
    """Where a visit stands.

    visit: its number in the plan, 0 = not begun. mounted: begun mountings, the last may be under
    way. left_out: numbers of planned mountings that never began. next_trial: place in the mounting
    of the trial that is ridden or next. ritual: steps of its reset that were said. overridden:
    needs passed over, with reasons, as long as they stand. ratings: places in ``runs`` with what
    was said of them; of one region and scale the last stands.
    """

    visit: int = 0
    warm_up_begun_ns: int | None = None
    warm_up_ended_ns: int | None = None
    mounted: tuple[Mounted, ...] = ()
    left_out: tuple[int, ...] = ()
    next_trial: int = 0
    ritual: tuple[acts.RitualDone, ...] = ()
    overridden: tuple[acts.Overridden, ...] = ()
    runs: tuple[Run, ...] = ()
    ratings: tuple[tuple[int, acts.Rated], ...] = ()
    ended: acts.VisitEnded | None = None
    locked: acts.DataLocked | None = None
    reveals: tuple[acts.Revealed, ...] = ()

    @property
    def is_warming_up(self) -> bool:
        """Whether the warm-up is under way."""
        return self.warm_up_begun_ns is not None and self.warm_up_ended_ns is None

    @property
    def mounting(self) -> Mounted | None:
        """The mounting under way."""
        last = self.mounted[-1] if self.mounted else None
        return last if last is not None and last.ended_ns is None else None

    @property
    def run(self) -> Run | None:
        """The trial that is ridden now."""
        last = self.runs[-1] if self.runs else None
        return last if last is not None and last.ended_ns is None else None

    @property
    def is_reset(self) -> bool:
        """Whether the reset of the trial under way is done, or passed over."""
        passed_over = any(one.need == StartNeed.RESET for one in self.overridden)
        return passed_over or len(self.ritual) == len(RITUAL)


def planned_visit(plan: Plan, state: ConductState) -> PlannedVisit:
    """Return the plan of the visit under way.

    Raises:
        BadInput: none has begun.
    """
    if state.visit == 0:
        raise BadInput("The visit has not begun.", "Begin it first.")
    return plan.visits[state.visit - 1]


def planned_mounting(plan: Plan, state: ConductState) -> PlannedMounting | None:
    """Return the mounting under way, or the next one; None = all are done."""
    done = {one.number for one in state.mounted if one.ended_ns is not None} | set(state.left_out)
    left = (one for one in planned_visit(plan, state).mountings if one.number not in done)
    return next(left, None)


def planned_trial(plan: Plan, state: ConductState) -> PlannedTrial | None:
    """Return the trial that is ridden, or next in the mounting under way; None = none is left."""
    mounting = planned_mounting(plan, state)
    if state.mounting is None or mounting is None:
        return None
    place = state.next_trial
    return mounting.trials[place] if place < len(mounting.trials) else None
