"""When the rider rides, and which trials are taken as a pair."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from made_operator_scenes import of_watch, said, scene, stands

from posewatch.core.meter_offset import ComparisonBegan, PairBegan, PairEnded
from posewatch.core.outputs import Phase, StrokeJudged
from posewatch.core.records import Verdict
from posewatch.studio import Doing
from posewatch.ui.scene import Scene
from posewatch.ui.trial_pairs import TrialPairs

STROKE = StrokeJudged(0, 1, Verdict.GOOD, False, Phase.STEADYING, (), None)
IDLE = scene(Doing.NOTHING, moment=None)


def trial(counted: int) -> Iterator[Scene]:
    """Give the scenes of one trial, and of the time after it."""
    yield of_watch(stands(Phase.STEADYING, counted=0))
    yield of_watch(stands(Phase.STEADYING, counted=0), said=(said(STROKE),))
    yield of_watch(stands(counted=counted))
    yield of_watch(stands(counted=counted))
    yield IDLE
    yield IDLE


def events(pairs: TrialPairs, counted: int, is_seen_to: bool) -> list[type]:
    return [type(one) for now in trial(counted) for one in pairs.follow(now, is_seen_to)]


def test_two_trials_after_the_offset_are_a_pair() -> None:
    pairs = TrialPairs()
    assert events(pairs, 60, True) == [PairBegan]
    assert pairs.in_pair
    assert events(pairs, 60, True) == [PairEnded, ComparisonBegan]
    assert not pairs.in_pair
    assert events(pairs, 60, False) == [], "the next comparison waits for its offset"
    assert events(pairs, 60, True) == [PairBegan]


def test_a_pair_begins_with_the_first_stroke_that_counts() -> None:
    pairs = TrialPairs()
    before, stroke, counts, *_ = trial(1)
    assert pairs.follow(before, True) == ()
    assert not pairs.rides
    assert pairs.follow(stroke, True) == ()
    assert pairs.rides
    assert pairs.follow(counts, True) == (PairBegan(),)


def test_warm_up_is_no_trial_of_a_pair_even_if_the_offset_is_taken_in_it() -> None:
    pairs = TrialPairs()
    before, stroke, counts, again, *after = trial(30)
    for now, is_seen_to in ((before, False), (stroke, False), (counts, False), (again, True)):
        assert pairs.follow(now, is_seen_to) == ()
    assert [pairs.follow(now, True) for now in after] == [(), ()]
    assert events(pairs, 60, True) == [PairBegan]


@pytest.mark.parametrize("n_empty", [1, 3])
def test_trials_in_which_nothing_counts_are_none(n_empty: int) -> None:
    pairs = TrialPairs()
    assert events(pairs, 60, True) == [PairBegan]
    for _ in range(n_empty):
        assert events(pairs, 0, True) == []
    assert pairs.in_pair
    assert events(pairs, 60, True) == [PairEnded, ComparisonBegan]
