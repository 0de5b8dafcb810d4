"""How a watch stands, in the words that screens need."""

from __future__ import annotations

import math

import pytest
from linkage_rider import CHAIN, Pose, ride

from posewatch.core import pipeline
from posewatch.core.doubts import Doubt
from posewatch.core.envelope import Target
from posewatch.core.judge import Task
from posewatch.core.outputs import HoldGained, Phase, Reason
from posewatch.core.records import NS_PER_S, Command, CommandKind, Input
from posewatch.core.standing import Standing, standing
from posewatch.core.watch_plan import WatchPlan


def stand(target: Target, inputs: list[Input], goal: int = 60) -> list[Standing]:
    """Return how the watch stands after each input."""
    task = Task(target, WatchPlan(goal_strokes=goal, sit_in_s=2.0))
    state = pipeline.start(task, CHAIN, None)
    stood = []
    for item in inputs:
        state, _ = pipeline.step(task, state, item)
        stood.append(standing(task, state, item.t_ns))
    return stood


def test_steadying_counts_up_to_the_hold_and_strokes_follow(ridden_target: Target) -> None:
    stood = stand(ridden_target, list(ride(20.0, seed=3)), goal=8)
    steady = [one.steady for one in stood if one.phase is Phase.STEADYING]
    assert steady == sorted(steady)
    assert set(steady) == {0, 1, 2, 3, 4}
    assert {one.needed for one in stood} == {5}
    held = [one for one in stood if one.phase is Phase.IN_POSITION]
    assert {one.steady for one in held} == {0}
    # A run counts from its eighth stroke; until then its strokes are pending.
    assert max(one.pending for one in held) == 7
    assert min(one.counted for one in held if one.counted) == 8
    assert [one.reached for one in stood] == [one.counted >= 8 for one in stood]
    assert stood[-1].cadence_rpm == pytest.approx(90.0, abs=1.0)
    assert math.isnan(stood[0].cadence_rpm)
    assert stood[-1].doubt is None
    assert stood[-1].counted_s == pytest.approx(stood[-1].counted * 60 / 90, rel=0.02)


def test_a_pause_waits_with_its_reason_and_no_sit_in(ridden_target: Target) -> None:
    frames = list(ride(12.0, seed=3))
    t_ns = frames[-1].t_ns + NS_PER_S // 30
    stood = stand(ridden_target, [*frames, Command(t_ns, CommandKind.PAUSE, "rest")])
    assert stood[-2].waiting == ()
    assert stood[-1].waiting == (Reason.PAUSED,)
    assert stood[-1].phase is Phase.STEADYING


def test_nobody_is_doubted_with_the_joint_and_the_reason(ridden_target: Target) -> None:
    stood = stand(ridden_target, list(ride(2.0, lambda _, crank: Pose(crank, seen=False))))
    assert stood[-1].doubt == ("shoulder", Doubt.NOBODY)
    assert stood[-1].live == ()
    assert stood[-1].waiting == (Reason.NOT_SEEN,)


def test_the_hold_is_gained_once_in_this_ride(ridden_target: Target) -> None:
    task = Task(ridden_target, WatchPlan())
    state = pipeline.start(task, CHAIN, None)
    said = []
    for frame in ride(12.0, seed=3):
        state, out = pipeline.step(task, state, frame)
        said += out
    assert len([o for o in said if isinstance(o, HoldGained)]) == 1
