"""Where a visit stands and the one thing that is next, in words for the operator. Without Qt.

Items go by their codes; nothing here knows a name.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from posewatch.core.records import NS_PER_S
from posewatch.trials.check_list import check_list
from posewatch.trials.conduct_state import (
    ConductState,
    Run,
    StartNeed,
    TrialPhase,
    planned_mounting,
    planned_trial,
    planned_visit,
)
from posewatch.trials.kinds import CheckLine, Entry
from posewatch.trials.plan import Plan
from posewatch.trials.start_needs import Missing
from posewatch.trials.time_left import time_left_s
from posewatch.trials.words import RITUAL_S, RitualMoment
from posewatch.ui.scene import Reset
from posewatch.ui.ways import RESET

#: The last step of the reset stays on the rider's window for so long.
PEDAL_SHOWN_S = 3.0


class Next(StrEnum):
    """What is next."""

    BEGIN_VISIT = "begin the visit"
    RATE = "rate"
    GUESS = "guess"
    CODES = "codes"
    BEGIN_WARM_UP = "begin the warm-up"
    WARM_UP = "warm-up"
    END_WARM_UP = "end the warm-up"
    MOUNT = "mount"
    LINE = "line of the check list"
    REST = "rest of the item"
    TARGET = "target"
    BEGIN_TRIAL = "begin the trial"
    RESET = "reset"
    RIDE = "ride"
    REACHED = "reached"
    END_MOUNTING = "end the mounting"
    END_VISIT = "end the visit"
    OVER = "over"
    STOPPED = "stopped"


@dataclass(frozen=True, slots=True)
class VisitNow:
    """How a visit stands at one moment.

    needs: what the next trial still needs. passes_over: waits are passed over. number: of the visit
    in the plan that is to begin. line: place in the check list that is marked. fault: why nothing
    can be kept any more, empty = all is well. is_ending: the watch of the trial comes to its end.
    """

    plan: Plan
    state: ConductState
    codes: tuple[str, ...]
    needs: tuple[Missing, ...]
    now_ns: int
    passes_over: bool = False
    rehearsal: bool = False
    number: int = 1
    line: int = 0
    fault: str = ""
    is_ending: bool = False

    @property
    def run(self) -> Run | None:
        """The trial under way."""
        return self.state.run

    @property
    def marked(self) -> CheckLine:
        """The line of the check list that is marked."""
        return check_list(self.plan.design)[self.line]

    def need(self, need: StartNeed) -> Missing | None:
        """Return what is missing of one need."""
        return next((one for one in self.needs if one.need is need), None)


@dataclass(frozen=True, slots=True)
class Step:
    """What is next. words: for people; todo: which key does what, by the names of acts in braces.

    is_done: it tells that something was reached.
    """

    next: Next
    words: str
    todo: str = ""
    is_done: bool = False


def step_of(now: VisitNow) -> Step:
    """Return the one thing that is next."""
    state = now.state
    if now.fault:
        return Step(Next.STOPPED, "the visit's record cannot be written: nothing is kept any more")
    if state.visit == 0:
        n = len(now.plan.visits[now.number - 1].mountings)
        words = f"visit {now.number} of {len(now.plan.visits)} is to begin: {n} mountings"
        return Step(Next.BEGIN_VISIT, words, "{BEGIN} begins it")
    if now.run is not None:
        return _riding(now, now.run)
    if now.need(StartNeed.RATINGS):
        return Step(Next.RATE, "ask the rider how the trial felt", "{BEGIN} opens the ratings")
    if now.need(StartNeed.GUESS):
        words = "ask which item the rider takes it for, before any result is seen"
        return Step(Next.GUESS, words, "{BEGIN} opens the guess")
    if state.ended is not None:
        return Step(Next.OVER, "the visit is over", "{CLOSE} closes the program")
    return _between(now)


def _between(now: VisitNow) -> Step:
    """Return what is next before and between trials, once all is asked."""
    state = now.state
    if codes := now.need(StartNeed.CODES):
        todo = f"{codes.advice} Or {{SKIP}} goes on without, with a reason."
        return Step(Next.CODES, codes.text, todo)
    mounting = planned_mounting(now.plan, state)
    if mounting is None:
        return Step(Next.END_VISIT, "all that was planned is done", "{BEGIN} ends the visit")
    if warm_up := now.need(StartNeed.WARM_UP):
        return _warm_up(now, warm_up)
    code = now.codes[mounting.slot]
    if state.mounting is None:
        discarded = ", to get used to it (discarded)" if mounting.familiarisation else ""
        rest = now.need(StartNeed.REST)
        words = f"mount {code} afresh{discarded}"
        if rest is not None:
            words += f"; {rest.text}, also while it is mounted"
        return Step(Next.MOUNT, words, "{BEGIN} as you begin with it")
    if now.need(StartNeed.CHECK_LIST):
        return _line(now)
    trial = planned_trial(now.plan, state)
    if trial is None:
        words = f"all trials on {code} are done: the rider off, the item off load"
        return Step(Next.END_MOUNTING, words, "{BEGIN} ends the mounting")
    if target := now.need(StartNeed.TARGET):
        todo = f"{target.advice} Or {{SKIP}} leaves the trial out, with a reason."
        return Step(Next.TARGET, target.text, todo)
    if rest := now.need(StartNeed.REST):
        todo = "{BEGIN} lets the time pass" if now.passes_over else "it goes on by itself"
        return Step(Next.REST, rest.text, f"{todo}; {{SKIP}} passes it over, with a reason")
    words = f"trial on the {trial.hands}: the rider on the bike, cranks turning"
    return Step(Next.BEGIN_TRIAL, words, "{BEGIN} begins it with the reset")


def _warm_up(now: VisitNow, need: Missing) -> Step:
    state = now.state
    skip = "{SKIP} passes it over, with a reason"
    if state.warm_up_begun_ns is None:
        return Step(Next.BEGIN_WARM_UP, need.text, f"{{BEGIN}} begins it; {skip}")
    if state.warm_up_ended_ns is None and need.left_s <= 0:
        return Step(Next.END_WARM_UP, "the warm-up is long enough", "{BEGIN} ends it")
    todo = "{BEGIN} lets the time pass" if now.passes_over else "on the rider's own gear"
    return Step(Next.WARM_UP, need.text, f"{todo}; {skip}")


def _line(now: VisitNow) -> Step:
    line, n = now.marked, len(check_list(now.plan.design))
    do = {
        Entry.TICK: "{BEGIN} ticks it",
        Entry.NUMBER: f"{{BEGIN}}, then what you read{f', in {line.unit}' if line.unit else ''}",
        Entry.TEXT: "{BEGIN}, then the words",
    }[line.entry]
    words = f"check list {now.line + 1} of {n}: {line.text}"
    return Step(Next.LINE, words, f"{do}; {{SKIP}} leaves it out, with a reason")


def _riding(now: VisitNow, run: Run) -> Step:
    if now.is_ending:
        return Step(Next.RIDE, "the trial ends")
    goal = now.plan.design.goal_strokes
    if run.phase is TrialPhase.REACHED:
        words = f"done: {goal} strokes are counted; the rider may ease off"
        todo = "it closes by itself; {BEGIN} closes it now"
        return Step(Next.REACHED, words, todo, True)
    abort = "{END} breaks the trial off, with a reason"
    if not now.state.is_reset:
        reset = reset_shown(now)
        if reset is None:
            return Step(Next.RESET, "the camera opens; then the reset begins", abort)
        words = f"reset, tell the rider: {reset.words}, {clock_words(reset.left_s)}"
        return Step(Next.RESET, words, f"it goes on by itself; {{BEGIN}} begins it anew; {abort}")
    if run.phase is TrialPhase.WAITING:
        return Step(Next.RIDE, f"waiting: {run.waiting}", abort)
    return Step(Next.RIDE, f"{run.phase}: {run.n_confirmed} of {goal} strokes", abort)


def reset_shown(now: VisitNow) -> Reset | None:
    """Return what the rider is told of the reset, None = nothing."""
    state = now.state
    if state.run is None or not state.ritual:
        return None
    last = state.ritual[-1]
    for_s = (now.now_ns - last.t_ns) / NS_PER_S
    if state.is_reset and (last.moment is not RitualMoment.PEDAL or for_s >= PEDAL_SHOWN_S):
        return None
    return Reset(RESET[last.moment], max(0.0, RITUAL_S[last.moment] - for_s))


def where(now: VisitNow) -> str:
    """Say where the visit is: mounting, code, hands, trial and its phase."""
    state = now.state
    stamp = "rehearsal; " if now.rehearsal else ""
    if state.visit == 0:
        return f"{stamp}visit {now.number}, not begun"
    visit = planned_visit(now.plan, state)
    mounting = planned_mounting(now.plan, state)
    if state.ended is not None or mounting is None:
        over = "over" if state.ended is not None else "all mountings done"
        return f"{stamp}visit {state.visit}: {over}"
    place = visit.mountings.index(mounting) + 1
    parts = [f"mounting {place} of {len(visit.mountings)}", now.codes[mounting.slot]]
    trial = planned_trial(now.plan, state)
    if trial is not None:
        parts.append(f"trial {trial.number} of {len(mounting.trials)}, {trial.hands}")
        parts.append(str(TrialPhase.PLANNED if now.run is None else now.run.phase))
    elif state.mounting is None:
        parts.append("not begun")
    else:
        parts.append("trials done")
    return stamp + "  ·  ".join(parts)


def left_words(now: VisitNow) -> str:
    """Say how long the visit is expected to take from here, empty = it is over or not begun."""
    if now.state.visit == 0 or now.state.ended is not None:
        return ""
    left_s = time_left_s(now.plan, now.state, now.now_ns)
    return f"about {minutes(left_s)} left"


def timers(now: VisitNow) -> tuple[str, ...]:
    """Say what is waited for, and for how long."""
    if now.run is not None:
        return ()
    names = {StartNeed.WARM_UP: "warm-up", StartNeed.REST: "rest of the item"}
    return tuple(
        f"{names[one.need]} {clock_words(one.left_s)}"
        for one in now.needs
        if one.need in names and one.left_s > 0 and _runs(now, one)
    )


def _runs(now: VisitNow, need: Missing) -> bool:
    state = now.state
    if need.need is StartNeed.REST:
        return True
    return state.warm_up_begun_ns is not None and state.warm_up_ended_ns is None


def clock_words(seconds: float) -> str:
    """Return a count-down as m:ss, rounded up."""
    whole = -int(-seconds // 1)
    return f"{whole // 60}:{whole % 60:02d}"


def minutes(seconds: float) -> str:
    """Return an expected length of time: whole minutes, from an hour on with hours."""
    whole = max(1, round(seconds / 60))
    return f"{whole} min" if whole < 60 else f"{whole // 60} h {whole % 60:02d} min"
