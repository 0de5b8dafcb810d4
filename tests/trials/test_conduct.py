"""What may happen in a visit and when; every possible record replays, nothing runs backwards."""

from __future__ import annotations

from random import Random
from typing import Any

import pytest
from made_acts import GOAL, Walk, any_act, made_plan

from posewatch.core.outputs import Phase
from posewatch.core.timebase import to_ns
from posewatch.errors import BadInput
from posewatch.trials import acts
from posewatch.trials.acts import Act
from posewatch.trials.conduct import step
from posewatch.trials.conduct_state import (
    ConductState,
    StartNeed,
    TrialPhase,
    planned_mounting,
    planned_trial,
)
from posewatch.trials.plan import Plan
from posewatch.trials.words import ConcealmentLevel, RitualMoment

RIDDEN = (TrialPhase.SIT_IN, TrialPhase.STEADYING, TrialPhase.COUNTING)
#: What may follow what while a trial is under way; once reached it stays so until it is closed.
MAY_FOLLOW = {
    TrialPhase.READY: {*RIDDEN, TrialPhase.WAITING, TrialPhase.REACHED, TrialPhase.CLOSED},
    TrialPhase.WAITING: {TrialPhase.READY, *RIDDEN, TrialPhase.REACHED, TrialPhase.CLOSED},
    TrialPhase.SIT_IN: {*RIDDEN, TrialPhase.WAITING, TrialPhase.REACHED, TrialPhase.CLOSED},
    TrialPhase.STEADYING: {*RIDDEN, TrialPhase.WAITING, TrialPhase.REACHED, TrialPhase.CLOSED},
    TrialPhase.COUNTING: {*RIDDEN, TrialPhase.WAITING, TrialPhase.REACHED, TrialPhase.CLOSED},
    TrialPhase.REACHED: {TrialPhase.CLOSED},
    TrialPhase.CLOSED: set(),
}


@pytest.fixture
def walk() -> Walk:
    made = Walk()
    made.begin()
    return made


def phase_of(walk: Walk) -> TrialPhase:
    return walk.state.runs[-1].phase


def refused(walk: Walk, said: str, kind: type[Any], *values: Any) -> None:
    before = walk.state
    with pytest.raises(BadInput) as raised:
        walk.do(kind, *values)
    assert said in str(raised.value)
    assert raised.value.advice
    assert walk.state is before


def test_a_whole_visit() -> None:
    walk = Walk()
    walk.do(acts.VisitBegun, 1, "anna")
    seen = []
    while (planned := planned_mounting(walk.plan, walk.state)) is not None:
        walk.mount()
        walk.finish_mounting()
        seen.append((planned.number, planned.slot))
    assert [number for number, _ in seen] == [1, 2, 3, 4]
    assert [slot for _, slot in seen] in ([0, 1, 1, 0], [1, 0, 0, 1])
    walk.do(acts.VisitEnded)
    assert [(run.mounting, run.trial, run.n_confirmed) for run in walk.state.runs] == [
        (mounting, trial, GOAL) for mounting in (1, 2, 3, 4) for trial in (1, 2)
    ]
    hands = [run.hands for run in walk.state.runs]
    assert hands == ["hoods", "drops", "hoods", "drops", "drops", "hoods", "drops", "hoods"]
    assert all(one.guess is not None for one in walk.state.mounted)
    refused(walk, "The visit is over.", acts.MountingBegun)
    refused(walk, "The visit is over.", acts.VisitEnded)


def test_a_trial_from_ready_to_closed(walk: Walk) -> None:
    walk.do(acts.TrialBegun, "trials/x")
    found = [phase_of(walk)]
    walk.do(acts.HoldSeen, Phase.IN_POSITION, GOAL)  # before the reset is done, nothing is reached
    found.append(phase_of(walk))
    walk.reset()
    found.append(phase_of(walk))
    assert found == [TrialPhase.READY, TrialPhase.READY, TrialPhase.REACHED]


def test_phases_follow_the_hold_and_reached_stays(walk: Walk) -> None:
    walk.do(acts.TrialBegun, "trials/x")
    walk.reset()
    found = [phase_of(walk)]
    for phase, n in (
        (Phase.STEADYING, 0),
        (Phase.IN_POSITION, 0),
        (Phase.IN_POSITION, GOAL - 1),
        (Phase.STEADYING, GOAL - 1),
        (Phase.SIT_IN, GOAL - 1),
        (Phase.IN_POSITION, GOAL),
        (Phase.STEADYING, GOAL),
    ):
        walk.do(acts.HoldSeen, phase, n)
        found.append(phase_of(walk))
    assert found == [
        *(TrialPhase.SIT_IN, TrialPhase.STEADYING, TrialPhase.COUNTING, TrialPhase.COUNTING),
        *(TrialPhase.STEADYING, TrialPhase.SIT_IN, TrialPhase.REACHED, TrialPhase.REACHED),
    ]


def test_a_pause_waits_and_loses_the_hold(walk: Walk) -> None:
    walk.do(acts.TrialBegun, "trials/x")
    walk.reset()
    walk.do(acts.HoldSeen, Phase.IN_POSITION, 3)
    walk.do(acts.Waiting, "paused: towel")
    assert (phase_of(walk), walk.state.runs[-1].waiting) == (TrialPhase.WAITING, "paused: towel")
    walk.do(acts.HoldSeen, Phase.STEADYING, 3)
    assert phase_of(walk) is TrialPhase.WAITING
    walk.do(acts.WaitOver)
    assert phase_of(walk) is TrialPhase.STEADYING
    refused(walk, "The trial does not wait.", acts.WaitOver)
    refused(walk, "It is not said why the trial waits.", acts.Waiting, " ")


def test_the_reset_has_its_order_and_its_eight_seconds(walk: Walk) -> None:
    refused(walk, "No trial is under way.", acts.RitualDone, RitualMoment.COAST)
    walk.do(acts.TrialBegun, "trials/x")
    refused(walk, "'sit' is not the next step of the reset.", acts.RitualDone, RitualMoment.SIT)
    walk.do(acts.RitualDone, RitualMoment.COAST)
    walk.do(acts.RitualDone, RitualMoment.STAND)
    walk.t_s += 6.0
    refused(walk, "The rider stood for 7.0 s. Stand for 8 s", acts.RitualDone, RitualMoment.SIT)
    walk.do(acts.RitualDone, RitualMoment.COAST)  # begun anew
    assert [one.moment for one in walk.state.ritual] == [RitualMoment.COAST]
    walk.reset()
    assert walk.state.is_reset
    refused(walk, "The reset is done.", acts.RitualDone, RitualMoment.COAST)


def test_a_reset_can_be_passed_over_once_the_trial_has_begun(walk: Walk) -> None:
    refused(walk, "No trial is under way.", acts.Overridden, StartNeed.RESET, "no time")
    walk.do(acts.TrialBegun, "trials/x")
    refused(walk, "It is not said why", acts.Overridden, StartNeed.RESET, "")
    walk.do(acts.Overridden, StartNeed.RESET, "no time")
    assert phase_of(walk) is TrialPhase.SIT_IN
    walk.do(acts.TrialClosed, 0, 0, "over")
    walk.do(acts.TrialBegun, "trials/y")
    assert phase_of(walk) is TrialPhase.READY


def test_confirmed_strokes_are_never_fewer_unless_a_cut_off_log_holds_less(walk: Walk) -> None:
    walk.do(acts.TrialBegun, "trials/x")
    walk.reset()
    walk.do(acts.HoldSeen, Phase.IN_POSITION, 8)
    walk.do(acts.HoldSeen, Phase.IN_POSITION, 5)
    assert walk.state.runs[-1].n_confirmed == 8
    refused(walk, "8 strokes were confirmed, and", acts.TrialClosed, 7, 0, "")
    walk.do(acts.TrialClosed, 7, to_ns(5.0), "cut off")
    assert walk.state.runs[-1].n_confirmed == 7


def test_a_trial_is_ridden_again_inside_its_mounting_and_what_was_ridden_stays(walk: Walk) -> None:
    refused(walk, "There is no trial of this mounting", acts.TrialRepeated, "x")
    walk.ride(3)
    refused(walk, "It is not said why a trial is ridden again.", acts.TrialRepeated, "")
    walk.do(acts.TrialRepeated, "doorbell")
    refused(walk, "There is no trial of this mounting", acts.TrialRepeated, "twice")
    trial = planned_trial(walk.plan, walk.state)
    assert trial is not None
    assert trial.number == 1
    walk.ride()
    assert [(run.attempt, run.repeated) for run in walk.state.runs] == [(1, "doorbell"), (2, "")]
    walk.ride()
    walk.do(acts.MountingEnded)
    refused(walk, "Nothing is mounted.", acts.TrialRepeated, "too late")


def test_skipped_trials_and_mountings_are_left_out_with_a_reason(walk: Walk) -> None:
    refused(walk, "Not all trials of this mounting are ridden.", acts.MountingEnded)
    walk.do(acts.TrialSkipped, "cramp")
    walk.ride()
    refused(walk, "All trials of this mounting are done.", acts.TrialBegun, "trials/x")
    walk.do(acts.MountingEnded)
    refused(walk, "It is not said why a mounting is left out.", acts.MountingSkipped, "")
    walk.do(acts.MountingSkipped, "no time")
    assert walk.state.left_out == (2,)
    walk.mount()
    walk.do(acts.MountingSkipped, "seam is torn")
    assert walk.state.mounted[-1].skipped == "seam is torn"
    planned = planned_mounting(walk.plan, walk.state)
    assert planned is not None
    assert planned.number == 4
    refused(walk, "It is not said why the visit ends before all is ridden.", acts.VisitEnded, "")
    walk.do(acts.VisitEnded, "no time")


def test_lines_of_the_check_list(walk: Walk) -> None:
    refused(walk, "The check list has no line 'x'.", acts.LineDone, "x", "")
    refused(
        walk,
        "'' is no number (check list, room_temperature)",
        acts.LineDone,
        *("room_temperature", ""),
    )
    refused(walk, "'nan' is no number", acts.LineDone, *("room_temperature", "nan"))
    refused(walk, "It is not said why a line", acts.LineSkipped, *("room_temperature", ""))
    walk.do(acts.LineSkipped, "room_temperature", "no thermometer")
    mounting = walk.state.mounting
    assert mounting is not None
    assert [one.line for one in mounting.lines].count("room_temperature") == 1
    assert isinstance(mounting.lines[-1], acts.LineSkipped)


def test_what_cannot_be_passed_over(walk: Walk) -> None:
    refused(walk, "Without a target there is no trial.", acts.Overridden, StartNeed.TARGET, "x")
    refused(walk, "Without a mounting there is no trial.", acts.Overridden, StartNeed.MOUNTING, "x")
    refused(walk, "No trial needs 'luck'.", acts.Overridden, "luck", "x")
    refused(walk, "It is not said why the rest of the item", acts.Overridden, StartNeed.REST, "")


def test_how_long_what_was_passed_over_stands(walk: Walk) -> None:
    for need in (StartNeed.CODES, StartNeed.WARM_UP, StartNeed.REST, StartNeed.CHECK_LIST):
        walk.do(acts.Overridden, need, "because")
    walk.do(acts.Overridden, StartNeed.RATINGS, "because")

    def stands() -> set[str]:
        return {one.need for one in walk.state.overridden}

    walk.ride()
    assert stands() == {"code list", "warm-up", "rest of the item", "check list"}
    walk.ride()
    walk.do(acts.Overridden, StartNeed.RATINGS, "because")
    walk.do(acts.MountingEnded)
    assert stands() == {"code list", "warm-up", "ratings"}
    walk.mount()
    walk.ride()
    assert stands() == {"code list", "warm-up"}


def test_ratings_and_guesses_wait_for_the_end_of_what_they_are_about(walk: Walk) -> None:
    refused(walk, "No trial has been ridden yet.", acts.Rated, "front", "pain", 1.0)
    walk.do(acts.TrialBegun, "trials/x")
    refused(walk, "A trial is under way.", acts.Rated, "front", "pain", 1.0)
    walk.do(acts.TrialClosed, 0, 0, "over")
    refused(walk, "'knee' is no region.", acts.Rated, "knee", "pain", 1.0)
    refused(walk, "A rating cannot be 11.", acts.Rated, "front", "pain", 11.0)
    walk.do(acts.Rated, "front", "pain", None)
    assert walk.state.ratings[0][0] == 0
    assert walk.state.ratings[0][1].value is None
    refused(walk, "A guess is asked after a mounting.", acts.Guessed, "A", 5)
    walk.ride()
    walk.do(acts.MountingEnded)
    refused(walk, "The rider's card has no C.", acts.Guessed, "C", 5)
    refused(walk, "The confidence of a guess cannot be 11.", acts.Guessed, "A", 11)
    walk.do(acts.Guessed, None, 0)
    assert walk.state.mounted[-1].guess is not None


def test_nothing_is_guessed_where_nothing_is_concealed() -> None:
    walk = Walk(made_plan(concealment=ConcealmentLevel.READINGS_HIDDEN))
    walk.begin()
    walk.ride()
    walk.ride()
    walk.do(acts.MountingEnded)
    refused(walk, "The items are not concealed.", acts.Guessed, "A", 5)


def test_after_the_lock_nothing_that_counts_changes(walk: Walk) -> None:
    walk.ride()
    refused(walk, "The visit is not over.", acts.DataLocked, "the analyst")
    walk.do(acts.MountingSkipped, "out of time")
    walk.do(acts.VisitEnded, "out of time")
    walk.do(acts.DataLocked, "the analyst")
    for kind, *values in (
        (acts.DataLocked, "again"),
        (acts.Rated, "front", "pain", 1.0),
        (acts.TrialBegun, "trials/x"),
        (acts.ItemFact, "K4", "weight", 1.0),
    ):
        refused(walk, "The data are locked.", kind, *values)
    before = walk.state
    walk.do(acts.Noted, "read later")
    walk.do(acts.Reopened, "between trials")
    assert walk.state == before
    walk.do(acts.Revealed, "the analyst", "all is done", False, "5a" * 32)
    assert len(walk.state.reveals) == 1


def test_bench_readings_that_cannot_be(walk: Walk) -> None:
    refused(
        walk, "There is no hardness reading.", acts.Gauged, "K4", "OO", "rear", "", 3.0, "glass", ()
    )
    refused(walk, "'colour' is no fact of an item.", acts.ItemFact, "K4", "colour", 1.0)


@pytest.mark.parametrize(
    ("kind", "values"),
    [
        (acts.MountingBegun, ()),
        (acts.WarmUp, (True,)),
        (acts.TrialBegun, ("trials/x",)),
        (acts.Rated, ("front", "pain", 1.0)),
        (acts.DataLocked, ("x",)),
        (acts.VisitEnded, ("x",)),
    ],
)
def test_before_the_visit_has_begun(kind: type[Any], values: tuple[Any, ...]) -> None:
    refused(Walk(), "The visit has not begun.", kind, *values)


def test_which_visit() -> None:
    walk = Walk()
    refused(walk, "The plan has no visit 2. Give 1 to 1.", acts.VisitBegun, 2)
    walk.do(acts.VisitBegun, 1)
    refused(walk, "This visit has begun already.", acts.VisitBegun, 1)


def test_warm_up(walk: Walk) -> None:
    refused(walk, "No warm-up is under way.", acts.WarmUp, False)
    walk.do(acts.WarmUp, True)
    walk.do(acts.WarmUp, False)
    refused(walk, "No warm-up is under way.", acts.WarmUp, False)


@pytest.mark.parametrize("seed", range(40))
def test_whatever_is_tried_what_was_done_replays_and_nothing_runs_backwards(seed: int) -> None:
    chance = Random(seed)
    plan, state, done = made_plan(), ConductState(), list[Act]()
    t_ns = 0
    for _ in range(600):
        t_ns += chance.choice([0, to_ns(1.0), to_ns(9.0)])
        run = state.runs[-1] if state.runs else None
        act = any_act(chance, plan, t_ns, 0 if run is None else run.n_confirmed)
        before = repr(state)
        after = _tried(plan, state, act)
        assert repr(state) == before
        if after is None:
            continue
        _require_forward(state, after)
        done.append(act)
        state = after
    replayed = ConductState()
    for act in done:
        replayed = step(plan, replayed, act)
    assert replayed == state


def _tried(plan: Plan, state: ConductState, act: Act) -> ConductState | None:
    try:
        return step(plan, state, act)
    except BadInput:
        return None


def _require_forward(before: ConductState, after: ConductState) -> None:
    assert len(after.runs) >= len(before.runs)
    assert after.visit >= before.visit
    for old, new in zip(before.runs, after.runs, strict=False):
        assert (old.mounting, old.trial, old.attempt) == (new.mounting, new.trial, new.attempt)
        cut_off = new.phase is TrialPhase.CLOSED and bool(new.broken_off)
        assert new.n_confirmed >= old.n_confirmed or cut_off
        assert new.phase is old.phase or new.phase in MAY_FOLLOW[old.phase]
    for new in after.runs[len(before.runs) :]:
        assert new.phase is TrialPhase.READY
    under_way = [run for run in after.runs if run.ended_ns is None]
    assert under_way in ([], [*after.runs[-1:]])


def test_what_is_tried_goes_far_enough_to_mean_something() -> None:
    reached = set[TrialPhase]()
    n_runs = 0
    for seed in range(40):
        chance, plan, state, t_ns = Random(seed), made_plan(), ConductState(), 0
        for _ in range(600):
            t_ns += chance.choice([0, to_ns(1.0), to_ns(9.0)])
            run = state.runs[-1] if state.runs else None
            act = any_act(chance, plan, t_ns, 0 if run is None else run.n_confirmed)
            state = _tried(plan, state, act) or state
            reached |= {run.phase for run in state.runs}
        n_runs += len(state.runs)
    assert reached == {*MAY_FOLLOW}
    assert n_runs > 40


def test_a_warm_up_that_was_left_begins_anew() -> None:
    walk = Walk()
    walk.do(acts.VisitBegun, 1)
    walk.do(acts.WarmUp, True)
    walk.do(acts.Reopened, "between trials", after_s=3600.0)
    assert walk.state.warm_up_begun_ns is None
    walk.do(acts.WarmUp, True)
    walk.do(acts.WarmUp, False, after_s=600.0)
    walk.do(acts.Reopened, "between trials")
    assert walk.state.warm_up_ended_ns is not None
