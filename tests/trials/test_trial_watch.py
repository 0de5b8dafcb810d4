"""What the watch of a trial is asked to hold."""

from __future__ import annotations

import pytest
from made_acts import Walk, made_plan

from posewatch.core.envelope import Target
from posewatch.core.records import Channel
from posewatch.trials import acts
from posewatch.trials.reset import RESET_S
from posewatch.trials.trial_watch import REHEARSED_S, held_target, rehearsed, watch_plan
from posewatch.trials.words import ComparisonKind, SaddleMode


def test_the_sit_in_is_long_after_a_mounting_and_short_after_a_change_of_hands() -> None:
    walk = Walk(made_plan(sit_in_s=180.0, hand_change_s=45.0, power_w=200.0, cadence_rpm=90.0))
    walk.begin()
    first = watch_plan(walk.plan, walk.state)
    assert (first.power_w, first.cadence_rpm, first.goal_strokes) == (200.0, 90.0, 10)
    # The reset, with which the watch begins, is no part of it.
    assert first.first_sit_in_s == pytest.approx(RESET_S + 180.0)
    assert watch_plan(walk.plan, walk.state, in_the_saddle=True).first_sit_in_s == 180.0
    walk.ride()
    assert watch_plan(walk.plan, walk.state, in_the_saddle=True).first_sit_in_s == 45.0
    walk.ride()
    walk.do(acts.MountingEnded)
    walk.do(acts.Guessed, None, 0)
    walk.mount()
    assert watch_plan(walk.plan, walk.state, in_the_saddle=True).first_sit_in_s == 180.0


def test_a_rehearsal_does_not_wait() -> None:
    walk = Walk(made_plan())
    walk.begin()
    held = rehearsed(watch_plan(walk.plan, walk.state))
    assert (held.first_sit_in_s, held.sit_in_s) == (REHEARSED_S, REHEARSED_S)
    assert held.goal_strokes == walk.plan.design.goal_strokes


@pytest.mark.parametrize(
    ("kind", "mode", "outcomes"),
    [
        (ComparisonKind.SHORTS, None, {Channel.PELVIS_HEIGHT}),
        (ComparisonKind.BAR, None, set()),
        (ComparisonKind.SADDLE, SaddleMode.RESET, set()),
        (ComparisonKind.SADDLE, SaddleMode.SWAP, {Channel.SITTING_PLACE, Channel.PELVIS_HEIGHT}),
    ],
)
def test_what_the_item_itself_may_move_is_never_required(
    ridden_target: Target, kind: ComparisonKind, mode: SaddleMode | None, outcomes: set[Channel]
) -> None:
    design = made_plan(kind=kind, saddle_mode=mode).design
    held = held_target(ridden_target, design)
    for before, after in zip(ridden_target.envelopes, held.envelopes, strict=True):
        if before.channel in outcomes:
            assert not after.required
            assert not after.shape_required
        else:
            assert after == before
