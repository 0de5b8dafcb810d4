"""What is missing before a trial is named, and goes away when it is there."""

from __future__ import annotations

from typing import Any

import pytest
from made_acts import Walk, made_plan

from posewatch.errors import BadInput
from posewatch.trials import acts
from posewatch.trials.conduct_state import StartNeed
from posewatch.trials.plan import Plan
from posewatch.trials.start_needs import Facts, Missing, missing
from posewatch.trials.words import ConcealmentLevel

ALL = Facts(sealed=True, hands={"hoods", "drops"})


def needs(walk: Walk, facts: Facts = ALL, after_s: float = 0.0) -> dict[StartNeed, Missing]:
    now_ns = walk.now_ns + int(after_s * 1e9)
    return {one.need: one for one in missing(walk.plan, walk.state, now_ns, facts)}


def texts(walk: Walk, facts: Facts = ALL, after_s: float = 0.0) -> list[str]:
    found = needs(walk, facts, after_s).values()
    assert all(one.advice for one in found)
    return [one.text for one in found]


def walk_of(**changes: Any) -> Walk:
    plan: Plan = made_plan(**changes)
    return Walk(plan)


def test_before_the_visit_there_is_nothing_to_say() -> None:
    with pytest.raises(BadInput, match="The visit has not begun"):
        needs(Walk())


def test_all_that_can_be_missing_at_the_beginning() -> None:
    walk = walk_of(warm_up_s=600.0)
    walk.do(acts.VisitBegun, 1)
    nothing = Facts(sealed=False, hands=())
    assert texts(walk, nothing) == [
        "the items' codes are not sealed",
        "the warm-up of 10 min 00 s has not begun",
        "mounting 1 has not begun",
    ]
    walk.do(acts.MountingBegun)
    found = texts(walk, nothing)
    assert found[2:] == [
        "the check list has 15 to go, next: Pad centred and square: its middle seam on the "
        "body's middle line",
        "there is no target r17/road/hoods",
    ]


def test_with_everything_there_nothing_is_missing() -> None:
    walk = Walk()
    walk.begin()
    assert texts(walk) == []


def test_codes_are_only_sealed_where_an_item_is_concealed() -> None:
    unsealed = Facts(sealed=False, hands=("hoods",))
    for level in ConcealmentLevel:
        walk = walk_of(concealment=level)
        walk.begin()
        wanted = level is not ConcealmentLevel.READINGS_HIDDEN
        assert (StartNeed.CODES in needs(walk, unsealed)) is wanted


def test_the_warm_up_counts_down_and_is_ended() -> None:
    walk = walk_of(warm_up_s=600.0)
    walk.do(acts.VisitBegun, 1)
    walk.do(acts.WarmUp, True)
    one = needs(walk, after_s=150.0)[StartNeed.WARM_UP]
    assert one.left_s == pytest.approx(450.0)
    assert one.text == "the warm-up lacks 7 min 30 s"
    assert needs(walk, after_s=600.0)[StartNeed.WARM_UP].text == "the warm-up has not ended"
    walk.do(acts.WarmUp, False, after_s=601.0)
    assert StartNeed.WARM_UP not in needs(walk)
    # Ended too early, it is lacking however long one waits.
    short = walk_of(warm_up_s=600.0)
    short.do(acts.VisitBegun, 1)
    short.do(acts.WarmUp, True)
    short.do(acts.WarmUp, False, after_s=100.0)
    assert needs(short, after_s=9999.0)[StartNeed.WARM_UP].left_s == pytest.approx(500.0)


def test_an_item_rests_from_the_end_of_its_mounting_until_it_is_ridden_again() -> None:
    walk = walk_of(item_rest_s=600.0)
    walk.begin()
    walk.finish_mounting()
    ended_s = walk.t_s - 1.0  # a guess came after
    slots = [one.slot for one in walk.plan.mountings]
    assert slots[0] != slots[1] == slots[2]
    assert StartNeed.REST not in needs(walk)  # the other item is next
    walk.mount()
    walk.finish_mounting()
    ended_s = walk.t_s - 1.0
    one = needs(walk)[StartNeed.REST]
    assert one.left_s == pytest.approx(600.0 - (walk.t_s - ended_s))
    walk.mount()
    # It rests while it is mounted, too.
    after_s = ended_s + 599.0 - walk.t_s
    assert needs(walk, after_s=after_s)[StartNeed.REST].left_s == pytest.approx(1.0)
    assert texts(walk, after_s=after_s + 1.0) == []


def test_an_item_that_was_mounted_and_not_ridden_need_not_rest() -> None:
    walk = walk_of(item_rest_s=600.0)
    walk.begin()
    walk.finish_mounting()
    walk.mount()
    walk.do(acts.MountingSkipped, "wrong size")
    assert StartNeed.REST not in needs(walk)


def test_ratings_and_guess_are_asked_before_anything_else_is_felt() -> None:
    walk = Walk()
    walk.begin()
    for _ in range(2):
        walk.do(acts.TrialBegun, "trials/x")
        walk.do(acts.TrialClosed, 0, 0, "over")
        assert "the last trial is not rated" in texts(walk)
        walk.do(acts.Rated, "front", "pain", None)
    walk.do(acts.MountingEnded)
    assert texts(walk) == ["no guess was asked after mounting 1", "mounting 2 has not begun"]
    walk.do(acts.Overridden, StartNeed.GUESS, "not asked")
    assert texts(walk) == ["mounting 2 has not begun"]


def test_what_comes_after_the_last_trial_and_after_the_last_mounting() -> None:
    walk = Walk()
    walk.begin()
    walk.ride()
    walk.ride()
    assert texts(walk) == ["all trials of this mounting are done"]
    walk.do(acts.MountingEnded)
    walk.do(acts.Guessed, None, 0)
    for _ in range(3):
        walk.do(acts.MountingSkipped, "no time")
    assert texts(walk) == ["all planned mountings are done"]


def test_what_is_passed_over_is_missing_no_longer() -> None:
    walk = walk_of(warm_up_s=600.0)
    walk.do(acts.VisitBegun, 1)
    walk.do(acts.Overridden, StartNeed.WARM_UP, "rode here")
    assert texts(walk) == ["mounting 1 has not begun"]
