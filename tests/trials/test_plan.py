"""What a plan must be, whatever its design; and what cannot be planned."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given, settings
from made_plans import designs, made_design

from posewatch.errors import BadInput
from posewatch.trials.plan import Design, Plan, default_order, make_plan
from posewatch.trials.words import ComparisonKind, OrderKind, SaddleMode, Stamp

SOME = settings(max_examples=60, derandomize=True, deadline=None)


def lines(plan: Plan) -> list[str]:
    """One line a mounting: visit, number, block, slot, hands."""
    return [
        f"{visit.number} {one.number} {one.block} {one.slot} "
        + ",".join(f"{trial.number}{trial.hands}" for trial in one.trials)
        for visit in plan.visits
        for one in visit.mountings
    ]


def test_a_first_look_as_a_whole() -> None:
    assert lines(make_plan(made_design())) == [
        "1 1 None 1 1hoods,2drops",
        "1 2 1 0 1hoods,2drops",
        "1 3 1 1 1hoods,2drops",
        "1 4 2 1 1drops,2hoods",
        "1 5 2 0 1drops,2hoods",
        "1 6 3 0 1hoods,2drops",
        "1 7 3 1 1hoods,2drops",
    ]


def test_visits_share_whole_blocks() -> None:
    plan = make_plan(made_design(mountings=5, n_visits=2, familiarisation=False, hands=("aero",)))
    assert [[one.block for one in visit.mountings] for visit in plan.visits] == [
        [1, 1, 2, 2, 3, 3],
        [4, 4, 5, 5],
    ]
    assert [one.number for one in plan.mountings] == list(range(1, 11))


@SOME
@given(designs())
def test_what_every_plan_is(design: Design) -> None:
    plan = make_plan(design)
    assert plan == make_plan(design)
    assert len(plan.visits) == design.n_visits
    assert [one.number for one in plan.mountings] == list(range(1, len(plan.mountings) + 1))
    counted = [one for visit in plan.visits for one in visit.counted]
    assert len(counted) == design.n_items * design.mountings
    for visit in plan.visits:
        per_item = [
            sum(one.slot == slot for one in visit.counted) for slot in range(design.n_items)
        ]
        assert len(set(per_item)) == 1
        assert per_item[0] >= 1
    discarded = [one for one in plan.mountings if one.familiarisation]
    assert discarded == list(plan.mountings[:1] if design.familiarisation else ())
    assert [sorted(block) for block in plan.blocks] == [
        list(range(design.n_items))
    ] * design.mountings


@SOME
@given(designs())
def test_hands_are_nested_and_turn_round_from_one_mounting_of_an_item_to_its_next(
    design: Design,
) -> None:
    plan = make_plan(design)
    for one in plan.mountings:
        assert sorted(trial.hands for trial in one.trials) == sorted(design.hands)
    for slot in range(design.n_items):
        own = [
            [trial.hands for trial in one.trials]
            for visit in plan.visits
            for one in visit.counted
            if one.slot == slot
        ]
        assert all(later == earlier[::-1] for earlier, later in pairwise(own))
    for block in range(1, design.mountings + 1):
        alike = {one.trials for one in plan.mountings if one.block == block}
        assert len(alike) == 1


def test_the_discarded_item_is_the_one_that_rests_longest() -> None:
    for seed in range(20):
        first, *others = make_plan(made_design(n_items=4, seed=seed)).mountings
        assert [one.slot for one in others[:4]].index(first.slot) == 3


@pytest.mark.parametrize(
    ("mountings", "n_visits", "stamp"),
    [
        (1, 1, Stamp.INDICATION_ONLY),
        (3, 1, Stamp.INDICATION_ONLY),
        (5, 5, Stamp.INDICATION_ONLY),
        (6, 1, Stamp.INDICATION_ONLY),
        (6, 2, Stamp.FULL_ANSWER),
        (12, 4, Stamp.FULL_ANSWER),
    ],
)
def test_nothing_is_refused_for_being_small_but_stamped(
    mountings: int, n_visits: int, stamp: Stamp
) -> None:
    plan = make_plan(made_design(mountings=mountings, n_visits=n_visits))
    assert plan.design.stamp is stamp


def test_the_usual_order() -> None:
    assert default_order(2) is OrderKind.REVERSED_PAIRS
    assert {default_order(n) for n in range(3, 9)} == {OrderKind.WILLIAMS}


def test_saddles_are_planned_once_it_is_said_how() -> None:
    for mode in SaddleMode:
        assert make_plan(made_design(kind=ComparisonKind.SADDLE, saddle_mode=mode)).visits


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"n_items": 1}, "The number of items cannot be 1. Give 2 to 8."),
        ({"n_items": 9}, "The number of items cannot be 9."),
        ({"mountings": 0}, "The number of mountings of each item cannot be 0."),
        ({"n_visits": 4}, "cannot be ridden in 4 visits."),
        ({"n_visits": 0}, "cannot be ridden in 0 visits."),
        ({"goal_strokes": 0}, "counted strokes a trial cannot be 0."),
        ({"seed": -1}, "The seed cannot be -1."),
        ({"seed": 2**32}, "The seed cannot be 4294967296. Give 0 to 4294967295."),
        ({"warm_up_s": -1.0}, "The warm-up in seconds cannot be -1."),
        ({"sit_in_s": math.nan}, "The sit-in in seconds cannot be nan."),
        ({"hand_change_s": math.inf}, "after a change of hands in seconds cannot be inf."),
        ({"item_rest_s": 1e6}, "The rest of an item in seconds cannot be 1000000."),
        ({"power_w": 0.0}, "The power in W cannot be 0."),
        # A revolution of over 1.5 s is never judged.
        ({"cadence_rpm": 39.0}, "The cadence in rpm cannot be 39. Give 40 to 200."),
        ({"hands": ()}, "No hand position is planned."),
        ({"hands": ("hoods", " ")}, "A hand position has no name."),
        ({"hands": ("hoods", "Hoods")}, "A hand position is there twice: hoods, Hoods."),
        ({"kind": ComparisonKind.SADDLE}, "it is not said which."),
        ({"saddle_mode": SaddleMode.SWAP}, "is said of saddles, and shorts is compared."),
    ],
)
def test_what_cannot_be_ridden(changes: dict[str, Any], said: str) -> None:
    with pytest.raises(BadInput) as raised:
        make_plan(made_design(**changes))
    assert said in str(raised.value)
