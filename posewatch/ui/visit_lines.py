"""What stands in the lists of the operator's visit panel. Without Qt."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from posewatch.core.timebase import to_s
from posewatch.trials import acts
from posewatch.trials.check_list import check_list, open_lines
from posewatch.trials.conduct_state import (
    ConductState,
    Run,
    StartNeed,
    planned_mounting,
    planned_trial,
)
from posewatch.trials.kinds import CheckLine
from posewatch.trials.plan import PlannedMounting
from posewatch.ui.visit_view import Next, VisitNow, step_of

#: What cannot be passed over: without a mounting or a target there is no trial.
FIXED = frozenset({StartNeed.MOUNTING, StartNeed.TARGET})


#: Acts that leave something out, with a reason.
LeftOut = (
    acts.LineSkipped | acts.Overridden | acts.TrialSkipped | acts.MountingSkipped | acts.VisitEnded
)


class Sign(StrEnum):
    """How it stands with a line: by shape first."""

    OPEN = "\N{WHITE SQUARE}"
    DONE = "\N{CHECK MARK}"
    LEFT_OUT = "\N{EN DASH}"
    HERE = "\N{BLACK RIGHT-POINTING TRIANGLE}"


@dataclass(frozen=True, slots=True)
class Row:
    """One line of a list. is_marked: it is the one that keys act on."""

    sign: Sign
    text: str
    is_marked: bool = False

    @property
    def line(self) -> str:
        """The whole of it."""
        return f"{self.sign}  {self.text}"


@dataclass(frozen=True, slots=True)
class Skip:
    """Something that can be left out. name: for people. act: what that is, without its reason."""

    name: str
    act: LeftOut


def title(now: VisitNow) -> str:
    """Say what the list is of."""
    return "check list" if is_check_list(now) else "trials of this visit"


def is_check_list(now: VisitNow) -> bool:
    """Whether the check list is what is next."""
    return step_of(now).next is Next.LINE


def rows(now: VisitNow) -> tuple[Row, ...]:
    """Return the check list while it is at work, else the trials of the visit."""
    if is_check_list(now):
        return tuple(_check_rows(now))
    visit = now.plan.visits[(now.state.visit or now.number) - 1]
    return tuple(row for one in visit.mountings for row in _trial_rows(now, one))


def next_line(now: VisitNow) -> int:
    """Return the first open line of the check list from the one marked on, round and round."""
    mounting = now.state.mounting
    if mounting is None:
        return 0
    still = {line.key for line in open_lines(now.plan, mounting)}
    places = [k for k, line in enumerate(check_list(now.plan.design)) if line.key in still]
    return next((place for place in places if place >= now.line), next(iter(places), 0))


def _check_rows(now: VisitNow) -> Iterator[Row]:
    mounting = now.state.mounting
    said = {} if mounting is None else {one.line: one for one in mounting.lines}
    for place, line in enumerate(check_list(now.plan.design)):
        is_marked = place == now.line
        match said.get(line.key):
            case acts.LineDone(value=value):
                yield Row(Sign.DONE, f"{line.text}{_value(line, value)}", is_marked)
            case acts.LineSkipped(reason=reason):
                yield Row(Sign.LEFT_OUT, f"{line.text}  (left out: {reason})", is_marked)
            case _:
                yield Row(Sign.OPEN, line.text, is_marked)


def _value(line: CheckLine, value: str) -> str:
    return f"  = {value} {line.unit}".rstrip() if value else ""


def _trial_rows(now: VisitNow, mounting: PlannedMounting) -> Iterator[Row]:
    state = now.state
    here = state.visit > 0 and planned_mounting(now.plan, state) == mounting
    left_out = mounting.number in state.left_out
    done = next((one for one in state.mounted if one.number == mounting.number), None)
    discarded = ", discarded" if mounting.familiarisation else ""
    for trial in mounting.trials:
        text = f"{mounting.number}  {now.codes[mounting.slot]}{discarded}  {trial.hands}"
        runs = [r for r in state.runs if (r.mounting, r.trial) == (mounting.number, trial.number)]
        is_here = here and state.ended is None and planned_trial(now.plan, state) == trial
        told = "; ".join(_run_words(run) for run in runs)
        text += f"   {told}" if told else ""
        if is_here and state.mounting is not None:
            yield Row(Sign.HERE, text, True)
        elif runs and runs[-1].ended_ns is not None and not runs[-1].repeated:
            yield Row(Sign.DONE, text)
        elif left_out or (done is not None and _is_past(state, mounting, trial.number)):
            yield Row(Sign.LEFT_OUT, f"{text}   left out")
        else:
            yield Row(Sign.OPEN, text)


def _is_past(state: ConductState, mounting: PlannedMounting, trial: int) -> bool:
    """Whether a trial that was not ridden will not be any more."""
    under_way = state.mounting
    if under_way is None or under_way.number != mounting.number:
        return True
    return trial <= state.next_trial


def _run_words(run: Run) -> str:
    """Say what one riding of a trial came to."""
    if run.ended_ns is None:
        return str(run.phase)
    words = f"{run.n_confirmed} strokes, {to_s(run.counted_ns):.0f} s"
    if run.broken_off:
        words += f", broken off: {run.broken_off}"
    return f"{words}, ridden again: {run.repeated}" if run.repeated else words


def missing(now: VisitNow) -> tuple[str, ...]:
    """Say what the next trial still needs, by name; empty = it may begin, or one is under way."""
    if now.state.visit == 0 or now.run is not None or now.fault:
        return ()
    if now.state.ended is not None:
        return tuple(f"{one.need}: {one.text}" for one in now.needs if one.need in _ASKED)
    return tuple(f"{one.need}: {one.text}" for one in now.needs)


_ASKED = frozenset({StartNeed.RATINGS, StartNeed.GUESS})


def can_repeat(now: VisitNow) -> bool:
    """Whether the last trial can be ridden again: only inside its mounting."""
    state = now.state
    last = state.runs[-1] if state.runs else None
    if now.fault or last is None or state.run is not None or state.mounting is None:
        return False
    return last.mounting == state.mounting.number and not last.repeated


def skips(now: VisitNow) -> tuple[Skip, ...]:
    """Return what can be left out here, the most likely first."""
    state = now.state
    if state.visit == 0 or now.fault:
        return ()
    if now.run is not None:
        reset = Skip("the rest of the reset", acts.Overridden(0, StartNeed.RESET, ""))
        return () if state.is_reset else (reset,)
    if state.ended is not None:
        return ()
    found = []
    mounting = state.mounting
    if mounting is not None and is_check_list(now):
        line = now.marked
        found.append(Skip(f"this line: {line.text}", acts.LineSkipped(0, line.key, "")))
    for one in now.needs:
        if one.need not in FIXED:
            found.append(Skip(_NEEDS[one.need], acts.Overridden(0, one.need, "")))
    if planned_trial(now.plan, state) is not None:
        found.append(Skip("the trial that is next", acts.TrialSkipped(0, "")))
    if planned_mounting(now.plan, state) is not None:
        which = "the mounting that is next" if mounting is None else "the rest of this mounting"
        found.append(Skip(which, acts.MountingSkipped(0, "")))
        found.append(Skip("the rest of the visit", acts.VisitEnded(0, "")))
    return tuple(found)


_NEEDS = {
    StartNeed.CODES: "the sealed code list",
    StartNeed.WARM_UP: "the warm-up, or the rest of it",
    StartNeed.REST: "the rest of the item off load",
    StartNeed.CHECK_LIST: "the whole rest of the check list",
    StartNeed.RATINGS: "the ratings of the last trial",
    StartNeed.GUESS: "the guess",
}
