"""How evenly the crank is driven within one revolution, from torques, and how the legs share.

Torques are taken at even steps of the crank's turning, so that means over them are those of power
at one speed. Definitions:

* **Pedal smoothness** = 100 x mean torque / largest torque, and **torque effectiveness** = 100 x
  (P+ + P-) / P+, with P+ and P- the means over the revolution of the positive and of the negative
  part: those of the open wireless power profile's page 0x13.
* Part of the literature takes 100 x P+ / (P+ + |P-|) for the effectiveness instead: both are given.
* **Asymmetry** = 100 x (left - right) / half of (left + right); the **balance** is the left leg's
  share. Of 52 : 48 the asymmetry is 8 % and the balance 52 %.

A signal of both legs together hides what each does: where one pulls back the other pushes. It
says so (``per_leg``). None of these has an agreed limit, so none is judged here.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean

import numpy as np
from numpy.typing import ArrayLike

from posewatch.core.sensor_records import CyclingPower, PowerVector

#: Sensor locations at which one leg alone is measured (Bluetooth SIG, Sensor Location): left and
#: right crank, left and right pedal.
ONE_LEG_LOCATIONS = frozenset({5, 6, 7, 8})
#: A revolution with fewer torques than this shows neither its largest nor its negative part.
FEWEST_TORQUES = 8
HIDES_ONE_LEG = "of both legs together: one leg that pulls back is hidden by the other that pushes"


@dataclass(frozen=True, slots=True)
class Smoothness:
    """One revolution, or the mean of several; NaN = not defined, where nothing drives.

    per_leg: of one leg; otherwise the signal is of both together.
    """

    pedal_smoothness_pct: float
    torque_effectiveness_pct: float
    alternative_effectiveness_pct: float
    per_leg: bool

    @property
    def note(self) -> str:
        """What must be said beside the figures, empty where nothing."""
        return "" if self.per_leg else HIDES_ONE_LEG


@dataclass(frozen=True, slots=True)
class VectorState:
    """Torques of the revolution under way.

    turn: the counter's revolution that they belong to, None before the first. whole: they began
    with it, and did not come in halfway.
    """

    torques_nm: tuple[float, ...] = ()
    turn: int | None = None
    whole: bool = False


def of_torques(torques_nm: ArrayLike, per_leg: bool) -> Smoothness:
    """Return the smoothness of one revolution.

    Args:
        torques_nm: (n,), at even steps of the crank angle over one revolution, either sign.
        per_leg: they are those of one leg.
    """
    torques = np.asarray(torques_nm, np.float64)
    mean, largest = float(torques.mean()), float(torques.max())
    forward = float(np.maximum(torques, 0.0).mean())
    backward = float(np.minimum(torques, 0.0).mean())
    if largest <= 0.0:
        return Smoothness(math.nan, math.nan, math.nan, per_leg)
    return Smoothness(
        100.0 * mean / largest,
        100.0 * (forward + backward) / forward,
        100.0 * forward / (forward - backward),
        per_leg,
    )


def is_per_leg(location: int | None) -> bool:
    """Tell whether a sensor at a location (None = not known) measures one leg alone."""
    return location in ONE_LEG_LOCATIONS


def step(
    state: VectorState, vector: PowerVector, per_leg: bool
) -> tuple[VectorState, Smoothness | None]:
    """Take in one torque vector; return the smoothness of the revolution that ended, if one did.

    A vector belongs to the revolution that its counter names. One without a counter, with forces
    instead of torques, after a lost revolution, or of too few torques gives nothing.
    """
    if vector.crank is None or not vector.torques_nm:
        return state, None
    turn = vector.crank.count
    if turn == state.turn:
        return VectorState((*state.torques_nm, *vector.torques_nm), turn, state.whole), None
    follows = state.turn is not None and (turn - state.turn) % (1 << vector.crank.count_bits) == 1
    ended = follows and state.whole and len(state.torques_nm) >= FEWEST_TORQUES
    found = of_torques(state.torques_nm, per_leg) if ended else None
    return VectorState(vector.torques_nm, turn, follows), found


def mean(revolutions: Sequence[Smoothness]) -> Smoothness | None:
    """Return the mean over revolutions of one source, None without one that is defined."""
    defined = [one for one in revolutions if not math.isnan(one.pedal_smoothness_pct)]
    if not defined:
        return None
    return Smoothness(
        fmean(one.pedal_smoothness_pct for one in defined),
        fmean(one.torque_effectiveness_pct for one in defined),
        fmean(one.alternative_effectiveness_pct for one in defined),
        all(one.per_leg for one in defined),
    )


def asymmetry_pct(left: float, right: float) -> float:
    """Return 100 (L - R) / (1/2 (L + R)), positive = the left does more; NaN where both are 0."""
    total = left + right
    return 200.0 * (left - right) / total if total else math.nan


def left_share(record: CyclingPower) -> float:
    """Return the balance as the left leg's share, 0 to 1; NaN where not sent or of no named leg."""
    if record.balance is None or not record.balance_is_left:
        return math.nan
    return record.balance
