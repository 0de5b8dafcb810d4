"""The conduct of one visit: what is next, what may begin, and what has been.

``step(plan, state, act)`` is all of it. An act that cannot be now raises and changes nothing, so
that every act in a record was possible when it was done; replaying a record gives its state.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import replace

from posewatch.core.outputs import Phase
from posewatch.errors import BadInput
from posewatch.trials import acts
from posewatch.trials.acts import Act
from posewatch.trials.bench_readings import require_gauged
from posewatch.trials.check_list import find_line, require_value
from posewatch.trials.conduct_state import (
    ConductState,
    Mounted,
    Run,
    StartNeed,
    TrialPhase,
    planned_mounting,
    planned_trial,
)
from posewatch.trials.item_passport import require_fact
from posewatch.trials.plan import Plan
from posewatch.trials.ratings import require_guess, require_rating
from posewatch.trials.reset import ritual_after

_PHASES = {
    Phase.SIT_IN: TrialPhase.SIT_IN,
    Phase.STEADYING: TrialPhase.STEADYING,
    Phase.IN_POSITION: TrialPhase.COUNTING,
}

#: What was passed over stands for the visit, for the mounting, or until the next trial has ended.
_VISIT_LONG = frozenset({StartNeed.CODES, StartNeed.WARM_UP})
_MOUNTING_LONG = _VISIT_LONG | {StartNeed.REST, StartNeed.CHECK_LIST}
_BETWEEN_MOUNTINGS = _VISIT_LONG | {StartNeed.RATINGS}
#: Without these there is nothing to ride, or nothing to hold it against.
_CANNOT_DO_WITHOUT = frozenset({StartNeed.MOUNTING, StartNeed.TARGET})


def replay(plan: Plan, done: Iterable[Act]) -> ConductState:
    """Return where a visit stands after some acts from its beginning; raises as :func:`step`."""
    state = ConductState()
    for act in done:
        state = step(plan, state, act)
    return state


def step(plan: Plan, state: ConductState, act: Act) -> ConductState:
    """Return the state after an act.

    Raises:
        BadInput: the act cannot be now; says why and what to do.
    """
    match act:
        case acts.VisitBegun():
            return _begun(plan, state, act)
        case acts.Reopened():
            # Nobody knows what was ridden meanwhile: a warm-up begins anew.
            return replace(state, warm_up_begun_ns=None) if state.is_warming_up else state
        case acts.Noted() | acts.ClockJumped():
            return state
        case acts.Revealed():
            return replace(state, reveals=(*state.reveals, act))
    _require(state.visit > 0, "The visit has not begun.", "Begin it first.")
    _require(state.locked is None, "The data are locked.", "What was recorded stays as it is.")
    match act:
        case acts.Gauged():
            require_gauged(act)
            return state
        case acts.ItemFact():
            require_fact(act)
            return state
        case acts.PhotoKept():
            return state
        case acts.RitualDone() | acts.Overridden(need=StartNeed.RESET) | acts.HoldSeen():
            return _ridden(plan, state, act)
        case acts.Waiting() | acts.WaitOver() | acts.TrialClosed():
            return _ridden(plan, state, act)
    _require(state.run is None, "A trial is under way.", "Close it or break it off first.")
    match act:
        case acts.DataLocked():
            _require(state.ended is not None, "The visit is not over.", "End it first.")
            return replace(state, locked=act)
        case acts.Rated():
            _require(bool(state.runs), "No trial has been ridden yet.", "Rate after a trial.")
            require_rating(act.region, act.scale, act.value)
            return replace(state, ratings=(*state.ratings, (len(state.runs) - 1, act)))
        case acts.Guessed():
            return _guessed(plan, state, act)
    _require(state.ended is None, "The visit is over.", "Begin the next one.")
    return _between_trials(plan, state, act)


def _begun(plan: Plan, state: ConductState, act: acts.VisitBegun) -> ConductState:
    _require(state.visit == 0, "This visit has begun already.", "Go on with it.")
    n = len(plan.visits)
    _require(1 <= act.visit <= n, f"The plan has no visit {act.visit}.", f"Give 1 to {n}.")
    return replace(state, visit=act.visit)


def _between_trials(plan: Plan, state: ConductState, act: Act) -> ConductState:
    mounting = state.mounting
    match act:
        case acts.WarmUp(begins=True):
            return replace(state, warm_up_begun_ns=act.t_ns, warm_up_ended_ns=None)
        case acts.WarmUp():
            _require(state.is_warming_up, "No warm-up is under way.", "Begin it first.")
            return replace(state, warm_up_ended_ns=act.t_ns)
        case acts.MountingBegun():
            _require(mounting is None, "A mounting is under way.", "End it first.")
            planned = planned_mounting(plan, state)
            if planned is None:
                raise BadInput("All planned mountings are done.", "End the visit.")
            made = Mounted(planned.number, planned.slot, act.t_ns)
            return replace(state, mounted=(*state.mounted, made), next_trial=0)
        case acts.MountingSkipped():
            return _mounting_skipped(plan, state, act)
        case acts.VisitEnded():
            _require(mounting is None, "A mounting is under way.", "End it first.")
            if planned_mounting(plan, state) is not None:
                _require_reason(act.reason, "the visit ends before all is ridden")
            return replace(state, ended=act)
        case acts.Overridden():
            return _passed_over(state, act)
    if mounting is None:
        raise BadInput("Nothing is mounted.", "Begin the next mounting first.")
    match act:
        case acts.LineDone() | acts.LineSkipped():
            line = find_line(plan.design, act.line)
            if isinstance(act, acts.LineSkipped):
                _require_reason(act.reason, "a line of the check list is left out")
            else:
                require_value(line, act.value)
            others = tuple(one for one in mounting.lines if one.line != act.line)
            return _with_last(state, lines=(*others, act))
        case acts.TrialRepeated():
            return _repeated(state, act)
    trial = planned_trial(plan, state)
    if isinstance(act, acts.MountingEnded):
        _require(
            trial is None,
            "Not all trials of this mounting are ridden.",
            "Ride or skip them, or leave the mounting with a reason.",
        )
        ended = _with_last(state, ended_ns=act.t_ns)
        return replace(_keeping(ended, _BETWEEN_MOUNTINGS), next_trial=0)
    if trial is None:
        raise BadInput("All trials of this mounting are done.", "End the mounting.")
    match act:
        case acts.TrialSkipped():
            _require_reason(act.reason, "a trial is skipped")
            kept = _keeping(state, _MOUNTING_LONG | {StartNeed.RATINGS})
            return replace(kept, next_trial=state.next_trial + 1)
        case acts.TrialBegun():
            here = (mounting.number, trial.number)
            attempt = 1 + sum((run.mounting, run.trial) == here for run in state.runs)
            run = Run(*here, attempt, trial.hands, act.folder, act.t_ns)
            return replace(state, runs=(*state.runs, run), ritual=())
    raise AssertionError(f"no rule for {act!r}")


def _ridden(plan: Plan, state: ConductState, act: Act) -> ConductState:
    """Return the state after something happened in the trial that is ridden."""
    run = state.run
    if run is None:
        raise BadInput("No trial is under way.", "Begin one first.")
    match act:
        case acts.RitualDone():
            _require(not state.is_reset, "The reset is done.", "It comes once, before the sit-in.")
            state = replace(state, ritual=ritual_after(state.ritual, act))
        case acts.Overridden():
            _require(not state.is_reset, "The reset is done.", "There is nothing to pass over.")
            _require_reason(act.reason, "the reset is passed over")
            state = replace(state, overridden=(*state.overridden, act))
        case acts.HoldSeen():
            # Confirmed strokes never become fewer.
            n = max(run.n_confirmed, act.n_confirmed)
            state = _with_run(state, hold=act.phase, n_confirmed=n)
        case acts.Waiting():
            _require_reason(act.cause, "the trial waits")
            held = Phase.SIT_IN if run.hold is Phase.SIT_IN else Phase.STEADYING
            state = _with_run(state, waiting=act.cause, hold=held)
        case acts.WaitOver():
            _require(bool(run.waiting), "The trial does not wait.", "It goes on.")
            state = _with_run(state, waiting="")
        case acts.TrialClosed():
            return _closed(state, run, act)
    return _with_run(state, phase=_phase(plan, state))


def _phase(plan: Plan, state: ConductState) -> TrialPhase:
    """Return where the trial under way is; once reached it stays so."""
    run = state.runs[-1]
    if run.phase is TrialPhase.REACHED:
        return TrialPhase.REACHED
    if run.waiting:
        return TrialPhase.WAITING
    if not state.is_reset:
        return TrialPhase.READY
    if run.n_confirmed >= plan.design.goal_strokes:
        return TrialPhase.REACHED
    return _PHASES[run.hold]


def _closed(state: ConductState, run: Run, act: acts.TrialClosed) -> ConductState:
    """Close the trial; of one that was cut off, the log may hold less than was seen."""
    _require(
        act.n_confirmed >= run.n_confirmed or bool(act.reason.strip()),
        f"{run.n_confirmed} strokes were confirmed, and the trial is closed with "
        f"{act.n_confirmed}.",
        "Say what broke it off.",
    )
    ended = _with_run(
        state,
        phase=TrialPhase.CLOSED,
        n_confirmed=act.n_confirmed,
        counted_ns=act.counted_ns,
        ended_ns=act.t_ns,
        broken_off=act.reason,
        waiting="",
    )
    kept = _keeping(ended, _MOUNTING_LONG)
    return replace(kept, ritual=(), next_trial=state.next_trial + 1)


def _passed_over(state: ConductState, act: acts.Overridden) -> ConductState:
    _require_reason(act.reason, f"the {act.need} is passed over")
    _require(act.need in tuple(StartNeed), f"No trial needs '{act.need}'.", "Name what is missing.")
    _require(
        act.need not in _CANNOT_DO_WITHOUT,
        f"Without a {act.need} there is no trial.",
        "This cannot be passed over.",
    )
    return replace(state, overridden=(*state.overridden, act))


def _guessed(plan: Plan, state: ConductState, act: acts.Guessed) -> ConductState:
    _require(
        bool(state.mounted) and state.mounting is None,
        "A guess is asked after a mounting.",
        "End the mounting first.",
    )
    require_guess(plan.design, act.guess, act.confidence)
    return _with_last(state, guess=act)


def _repeated(state: ConductState, act: acts.TrialRepeated) -> ConductState:
    """Take the trial that ended last again; only inside the mounting it belongs to."""
    _require_reason(act.reason, "a trial is ridden again")
    mounting = state.mounting
    last = state.runs[-1] if state.runs else None
    if last is None or mounting is None or last.mounting != mounting.number or last.repeated:
        raise BadInput(
            "There is no trial of this mounting to ride again.",
            "A trial is repeated before its mounting ends; a new mounting is another one.",
        )
    runs = (*state.runs[:-1], replace(last, repeated=act.reason))
    kept = _keeping(state, _MOUNTING_LONG | {StartNeed.RATINGS})
    return replace(kept, runs=runs, next_trial=last.trial - 1)


def _mounting_skipped(plan: Plan, state: ConductState, act: acts.MountingSkipped) -> ConductState:
    _require_reason(act.reason, "a mounting is left out")
    if state.mounting is not None:
        ended = _with_last(state, ended_ns=act.t_ns, skipped=act.reason)
        return replace(_keeping(ended, _BETWEEN_MOUNTINGS), next_trial=0)
    planned = planned_mounting(plan, state)
    if planned is None:
        raise BadInput("All planned mountings are done.", "End the visit.")
    return replace(state, left_out=(*state.left_out, planned.number))


def _keeping(state: ConductState, needs: Collection[str]) -> ConductState:
    """Forget what was passed over, but for some needs."""
    return replace(state, overridden=tuple(one for one in state.overridden if one.need in needs))


def _with_last(state: ConductState, **changes: object) -> ConductState:
    last = replace(state.mounted[-1], **changes)  # type: ignore[arg-type]
    return replace(state, mounted=(*state.mounted[:-1], last))


def _with_run(state: ConductState, **changes: object) -> ConductState:
    last = replace(state.runs[-1], **changes)  # type: ignore[arg-type]
    return replace(state, runs=(*state.runs[:-1], last))


def _require_reason(reason: str, what: str) -> None:
    _require(bool(reason.strip()), f"It is not said why {what}.", "Give a reason; it is kept.")


def _require(holds: bool, what: str, advice: str) -> None:
    if not holds:
        raise BadInput(what, advice)
