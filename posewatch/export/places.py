"""Where in a visit an act belongs: which mounting, and which trial of it."""

from __future__ import annotations

from dataclasses import dataclass

from posewatch.trials import acts
from posewatch.trials.acts import Act
from posewatch.trials.conduct_state import (
    ConductState,
    Run,
    planned_mounting,
    planned_trial,
)
from posewatch.trials.plan import Plan


@dataclass(frozen=True, slots=True)
class Place:
    """A mounting and a trial by their numbers, None = the act belongs to none.

    attempt: of the trial, from 1. hands: the trial's hand position, empty = none.
    """

    mounting: int | None = None
    trial: int | None = None
    attempt: int | None = None
    hands: str = ""


def place(plan: Plan, before: ConductState, act: Act, after: ConductState) -> Place:
    """Return where an act belongs that led from one state of a visit to the next."""
    match act:
        case acts.Rated() | acts.TrialClosed() | acts.TrialRepeated():
            return _of_run(after.runs[-1])
        case acts.Guessed() | acts.MountingEnded():
            return Place(after.mounted[-1].number)
        case acts.TrialSkipped():
            return _of_next(plan, before)
        case acts.MountingSkipped():
            skipped = planned_mounting(plan, before)
            return Place(None if skipped is None else skipped.number)
    if after.run is not None:
        return _of_run(after.run)
    return Place(None if after.mounting is None else after.mounting.number)


def _of_run(run: Run) -> Place:
    return Place(run.mounting, run.trial, run.attempt, run.hands)


def _of_next(plan: Plan, state: ConductState) -> Place:
    """Return the place of the trial that is next."""
    mounting, trial = state.mounting, planned_trial(plan, state)
    if mounting is None or trial is None:
        return Place()
    here = (mounting.number, trial.number)
    attempt = 1 + sum((run.mounting, run.trial) == here for run in state.runs)
    return Place(*here, attempt, trial.hands)
