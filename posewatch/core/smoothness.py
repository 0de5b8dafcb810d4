"""How evenly the crank is driven within one revolution, from torques, and how the legs share.

Torques are taken at even steps of the crank's turning, so that means over them are those of power
at one speed. Definitions:

* **Pedal smoothness** = 100 x mean torque / largest torque, and **torque effectiveness** = 100 x
  (P+ + P-) / P+, with P+ and P- the means over the revolution of the positive and of the negative
  part: those of the open wireless power profile's page 0x13.
* Part of the literature takes 100 x P+ / (P+ + |P-|) for the effectiveness instead: both are given.
* **Asymmetry** = 100 x (left - right) / half of (left + right); the **balance** is the left leg's
  share. Of 52 : 48 the asymmetry is 8 % and the balance 52 %.

A meter that sends its torques as vectors tells all of it. One that sends the accumulated torque and
the largest of each revolution tells the pedal smoothness alone. A signal of both legs together
hides what each does: where one pulls back the other pushes. It says so (``per_leg``). None of these
has an agreed limit, so none is judged here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from posewatch.core.revolutions import TORQUE_ROUND, TORQUE_UNIT_NM
from posewatch.core.sensor_records import CyclingPower, PowerVector

DEFINITIONS = "open wireless power profile, page 0x13"
#: A revolution with fewer torques than this shows neither its largest nor its negative part.
FEWEST_TORQUES = 8
HIDES_ONE_LEG = "of both legs together: one leg that pulls back is hidden by the other that pushes"


@dataclass(frozen=True, slots=True)
class Smoothness:
    """One revolution; NaN = not told, or not defined as nothing drives.

    per_leg: of one leg; otherwise the signal is of both together.
    """

    pedal_smoothness_pct: float
    torque_effectiveness_pct: float
    alternative_effectiveness_pct: float
    per_leg: bool


@dataclass(frozen=True, slots=True)
class TorqueState:
    """What one meter told of the revolution under way.

    torques_nm: of vectors; turn: the counter's revolution that they belong to, None before the
    first; whole: they began with it, and did not come in halfway. last: the last measurement with a
    torque accumulated at the crank, None before the first.
    """

    torques_nm: tuple[float, ...] = ()
    turn: int | None = None
    whole: bool = False
    last: CyclingPower | None = None


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


def step(
    state: TorqueState, record: CyclingPower | PowerVector, per_leg: bool
) -> tuple[TorqueState, Smoothness | None]:
    """Take in what a meter told; return the smoothness of the revolution that ended, if one did.

    Where there are vectors, they alone are used.
    """
    if isinstance(record, PowerVector):
        return _take_vector(state, record, per_leg)
    if record.crank is None or record.torque_1_32_nm is None or not record.torque_at_crank:
        return state, None
    found = None if state.turn is not None else _of_extremes(state.last, record, per_leg)
    return replace(state, last=record), found


def _take_vector(
    state: TorqueState, vector: PowerVector, per_leg: bool
) -> tuple[TorqueState, Smoothness | None]:
    """Take in one vector. It belongs to the revolution that its counter names.

    One without a counter goes on with that of the one before; a revolution that is too long for
    one packet comes in several. One before the first counter, with forces instead of torques, after
    a lost revolution, or of too few torques gives nothing.
    """
    if not vector.torques_nm or (vector.crank is None and state.turn is None):
        return state, None
    if vector.crank is None or vector.crank.count == state.turn:
        return replace(state, torques_nm=(*state.torques_nm, *vector.torques_nm)), None
    turn, n_turns = vector.crank.count, 1 << vector.crank.count_bits
    follows = state.turn is not None and (turn - state.turn) % n_turns == 1
    ended = follows and state.whole and len(state.torques_nm) >= FEWEST_TORQUES
    found = of_torques(state.torques_nm, per_leg) if ended else None
    return replace(state, torques_nm=vector.torques_nm, turn=turn, whole=follows), found


def _of_extremes(
    before: CyclingPower | None, now: CyclingPower, per_leg: bool
) -> Smoothness | None:
    """Return what accumulated and largest torque tell of one revolution, None = nothing.

    Each revolution adds its mean torque (Bluetooth SIG, Cycling Power). That the extremes are those
    of the last revolution is from memory.
    """
    if before is None or before.crank is None or now.crank is None or now.torque_nm is None:
        return None
    if (now.crank.count - before.crank.count) % (1 << now.crank.count_bits) != 1:
        return None
    assert before.torque_1_32_nm is not None
    assert now.torque_1_32_nm is not None
    added = (now.torque_1_32_nm - before.torque_1_32_nm) % TORQUE_ROUND
    largest, mean_nm = now.torque_nm[0], added * TORQUE_UNIT_NM
    if largest <= 0.0 or mean_nm > largest:
        return None
    return Smoothness(100.0 * mean_nm / largest, math.nan, math.nan, per_leg)


def asymmetry_pct(left: float, right: float) -> float:
    """Return 100 (L - R) / (1/2 (L + R)), positive = the left does more; NaN where both are 0."""
    total = left + right
    return 200.0 * (left - right) / total if total else math.nan


def left_share(record: CyclingPower) -> float:
    """Return the balance as the left leg's share, 0 to 1; NaN where not sent or of no named leg."""
    if record.balance is None or not record.balance_is_left:
        return math.nan
    return record.balance
