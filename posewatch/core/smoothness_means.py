"""Smoothness from torques over half a minute of riding in position: means of revolutions.

They describe a trial and judge nothing: these figures have no agreed limit.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from statistics import fmean

from posewatch.core.outputs import Figure, SmoothnessMean
from posewatch.core.records import NS_PER_S, DrivenTurn

SPAN_NS = 30 * NS_PER_S


@dataclass(frozen=True, slots=True)
class MeansState:
    """The revolutions in position that no mean has taken in yet, oldest first."""

    turns: tuple[DrivenTurn, ...] = ()


def take_turn(
    state: MeansState, turn: DrivenTurn, in_position: bool
) -> tuple[MeansState, tuple[SmoothnessMean, ...]]:
    """Take in one revolution; return the means of half a minute that is over."""
    if not in_position:
        return state, ()
    state = replace(state, turns=(*state.turns, turn))
    if turn.t_ns - state.turns[0].t_ns < SPAN_NS:
        return state, ()
    return finish(state)


def finish(state: MeansState) -> tuple[MeansState, tuple[SmoothnessMean, ...]]:
    """Return the means of what is left."""
    told = {
        Figure.PEDAL_SMOOTHNESS: [turn.pedal_smoothness_pct for turn in state.turns],
        Figure.TORQUE_EFFECTIVENESS: [turn.torque_effectiveness_pct for turn in state.turns],
    }
    per_leg = all(turn.per_leg for turn in state.turns)
    means = []
    for figure, values in told.items():
        known = [value for value in values if not math.isnan(value)]
        if known:
            end_ns = state.turns[-1].t_ns
            means.append(SmoothnessMean(end_ns, figure, fmean(known), len(known), per_leg))
    return MeansState(), tuple(means)
