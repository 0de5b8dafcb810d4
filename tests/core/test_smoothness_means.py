"""Means of smoothness over half a minute in position."""

from __future__ import annotations

import math

import pytest

from posewatch.core import smoothness_means
from posewatch.core.outputs import Figure, SmoothnessMean
from posewatch.core.records import DrivenTurn
from posewatch.core.smoothness_means import MeansState
from posewatch.core.timebase import to_ns


def turn(t_s: float, smooth: float, effective: float = 70.0, per_leg: bool = True) -> DrivenTurn:
    return DrivenTurn(to_ns(t_s), smooth, effective, per_leg)


def told(*turns: DrivenTurn, in_position: bool = True) -> list[SmoothnessMean]:
    """Take in revolutions, and end."""
    state, found = MeansState(), list[SmoothnessMean]()
    for one in turns:
        state, means = smoothness_means.take_turn(state, one, in_position)
        found += means
    return [*found, *smoothness_means.finish(state)[1]]


def test_each_half_minute_and_what_is_left_have_their_means() -> None:
    found = told(*(turn(float(n), 20.0 if n < 31 else 30.0) for n in range(40)))
    smooth = [one for one in found if one.figure is Figure.PEDAL_SMOOTHNESS]
    assert [(one.t_ns // 10**9, one.mean_pct, one.n_turns) for one in smooth] == [
        (30, pytest.approx(20.0), 31),
        (39, pytest.approx(30.0), 9),
    ]
    effective = [one.mean_pct for one in found if one.figure is Figure.TORQUE_EFFECTIVENESS]
    assert effective == pytest.approx([70.0, 70.0])


def test_what_is_not_told_has_no_mean() -> None:
    (one,) = told(turn(0.0, 20.0, math.nan), turn(1.0, 22.0, math.nan))
    assert (one.figure, one.mean_pct) == (Figure.PEDAL_SMOOTHNESS, pytest.approx(21.0))
    nothing = turn(0.0, math.nan, math.nan)
    assert told(nothing) == []
    assert told(nothing, turn(1.0, 20.0))[0].n_turns == 1


def test_revolutions_of_two_kinds_have_one_mean_and_undefined_ones_none() -> None:
    undefined = turn(2.0, math.nan, math.nan)
    found = told(turn(0.0, 20.0, 70.0), turn(1.0, 30.0, 80.0, per_leg=False), undefined)
    assert [(one.mean_pct, one.n_turns) for one in found] == [(25.0, 2), (75.0, 2)]
    assert not any(one.per_leg for one in found)
    assert told() == []


def test_out_of_position_nothing_is_taken_in() -> None:
    assert told(*(turn(float(n), 20.0) for n in range(40)), in_position=False) == []


def test_one_turn_of_both_legs_makes_the_mean_one_of_both() -> None:
    assert [one.per_leg for one in told(turn(0.0, 20.0), turn(1.0, 20.0, per_leg=False))] == [
        False,
        False,
    ]


def test_memory_is_bounded() -> None:
    state = MeansState()
    for n in range(1000):
        state, _ = smoothness_means.take_turn(state, turn(n / 2, 20.0), True)
    assert len(state.turns) <= 60
