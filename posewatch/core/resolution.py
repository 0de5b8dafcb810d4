"""What a target can tell: the noise of its stroke values, and what follows from it.

One stroke value is taken as the sum of two normal, independent parts: how a fresh sit moves the
channel (``resit_sd``, the same for all strokes of a sit), and the scatter of strokes within a sit
(``stroke_sd``, with autocorrelation ``stroke_lag1`` from one stroke to the next). The spreads are
taken as known; from three sits, the spread of sits is itself known only from 0.5 to 6.3 times
(95 %, chi-squared with 2 degrees of freedom). The hand place, a distance, is treated as if it
scattered along one line, which errs on the side of more noise.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from posewatch.core.envelope import SITS_WANTED, Envelope, Target, Unit
from posewatch.core.records import Channel, FloatArray

#: An offset is told over so many strokes.
STROKES = 20
CONFIDENCE = 0.95
POWER = 0.80
_NORMAL = NormalDist()
#: A true offset of so many standard errors is told with that confidence (both ways) and power:
#: z(0.975) + z(0.80) = 2.80 (sample-size arithmetic of a two-sided normal test).
SES_TOLD = _NORMAL.inv_cdf((1.0 + CONFIDENCE) / 2.0) + _NORMAL.inv_cdf(POWER)

#: False cues are stated for so many minutes.
MINUTES = 10.0
#: A limit under so many SDs of one stroke value is the noise itself: 4.6 % of strokes ridden in
#: position would lie beyond it.
TIGHTEST_SD = 2.0
#: More false cues than one in two minutes, and riders stop believing them.
MOST_FALSE_CUES = 5.0
_POINTS = 1000


@dataclass(frozen=True, slots=True)
class Resolution:
    """What one channel of a target can tell; all in ``unit``.

    stroke_sd: of one stroke value within a sit. fresh_sd: of one after sitting down anew, None
    where too few sits were captured to know. smallest: the least offset of the mean of STROKES
    strokes that is told; without fresh_sd it holds within one sit only. false_cues: expected in
    MINUTES of riding exactly in position.
    """

    channel: Channel
    unit: Unit
    tol: float
    stroke_sd: float
    fresh_sd: float | None
    smallest: float
    false_cues: float

    @property
    def noise(self) -> float:
        """SD of one stroke value, with the fresh sit where it is known."""
        return self.stroke_sd if self.fresh_sd is None else self.fresh_sd

    @property
    def too_tight(self) -> str:
        """Why the limit is tighter than the noise; empty = it is not."""
        if self.tol < TIGHTEST_SD * self.noise:
            ratio = f"{self.tol / self.noise:.1f}"
            return f"it is {ratio} SD of one stroke value; at least {TIGHTEST_SD:g} are needed"
        if self.false_cues > MOST_FALSE_CUES:
            return (
                f"a rider exactly in position would get {self.false_cues:.0f} false cues in "
                f"{MINUTES:g} min; at most {MOST_FALSE_CUES:g} are allowed"
            )
        return ""


def resolution(target: Target, channel: Channel) -> Resolution:
    """Return what one channel of a target can tell, at the cadence of its capture."""
    held = target.envelope(channel)
    sd, lag1 = held.stroke_sd, held.stroke_lag1
    resit_sd = _resit_sd(held)
    total = math.hypot(sd, resit_sd)
    strokes = MINUTES * target.cadence_rpm
    return Resolution(
        channel,
        held.unit,
        held.tol,
        sd,
        None if held.resit_sd is None else total,
        SES_TOLD * math.hypot(_mean_sd(held, (STROKES,)), _mean_sd(held, target.sits)),
        strokes * crossings_a_stroke(held.tol, total, _with_sits(lag1, sd, resit_sd)),
    )


def told_between(one: Target, other: Target, channel: Channel) -> float:
    """Return the least difference of two targets' means that is told, in the first one's unit.

    As :func:`resolution` has it, each target's mean with its own strokes and sits.
    """
    sds = (_mean_sd(target.envelope(channel), target.sits) for target in (one, other))
    return SES_TOLD * math.hypot(*sds)


def _mean_sd(held: Envelope, sits: Sequence[int]) -> float:
    """Return the SD of the mean over sits of so many strokes each: sqrt(B^2 / k + W^2 / n_eff).

    The strokes of a sit average (n_eff, their effective number), a sit's own place does not: only
    more sits, k, do. B is left out where it is not known, so that the SD holds within one sit.
    """
    n = sum(effective_strokes(strokes, held.stroke_lag1) for strokes in sits)
    return math.hypot(_resit_sd(held) / math.sqrt(len(sits)), held.stroke_sd / math.sqrt(n))


def _resit_sd(held: Envelope) -> float:
    return 0.0 if held.resit_sd is None else held.resit_sd


def _with_sits(lag1: float, stroke_sd: float, resit_sd: float) -> float:
    """Return the correlation of successive stroke values over many sits, -1 to 1.

    Covariance over variance, (B^2 + r W^2) / (B^2 + W^2): both strokes share their sit.
    """
    total = stroke_sd**2 + resit_sd**2
    return (resit_sd**2 + lag1 * stroke_sd**2) / total if total > 0 else 0.0


def effective_strokes(n: int, lag1: float) -> float:
    """Return how many independent strokes average as n correlated ones do.

    n (1 - r) / (1 + r), at least 1 (first-order autoregression, large n). A negative r is taken as
    0, since few strokes estimate it low.
    """
    r = max(0.0, lag1)
    return max(1.0, n * (1.0 - r) / (1.0 + r))


def crossings_a_stroke(tol: float, sd: float, lag1: float) -> float:
    """Return how often a stroke is beyond ``tol`` and the one before was not.

    P(\\|x\\| <= tol and \\|y\\| > tol) for standard normal x and y with correlation ``lag1``, each
    times ``sd``: the integral over x in the band of its density times the chance that y, normal
    about lag1 x with variance 1 - lag1^2, is beyond (midpoint rule over u, with x as sin u, whose
    points lie closest where the chance changes fastest). Coming back in takes the narrower inner
    limit, so that there are rather fewer cues than crossings.
    """
    spread = math.sqrt(max(0.0, 1.0 - lag1 * lag1))
    if sd <= 0.0 or spread == 0.0:
        return 0.0
    edge = tol / sd
    u = math.pi * ((np.arange(_POINTS) + 0.5) / _POINTS - 0.5)
    # Beyond 9 SD there is nothing; a wider range would leave the middle with too few points.
    reach = min(edge, 9.0)
    x = reach * np.sin(u)
    above = _upper_tails((edge - lag1 * x) / spread)
    below = _upper_tails((edge + lag1 * x) / spread)
    density = np.exp(-0.5 * x * x) / math.sqrt(2.0 * math.pi)
    return float(reach * math.pi / _POINTS * np.sum(np.cos(u) * density * (above + below)))


def _upper_tails(z: FloatArray) -> FloatArray:
    return np.array([0.5 * math.erfc(value / math.sqrt(2.0)) for value in z.tolist()])


def joint_share(resolutions: Iterable[Resolution]) -> float:
    """Return the chance that one stroke ridden in position is in band in all these channels.

    Product of 2 Phi(tol / SD) - 1, the channels taken as independent.
    """
    return math.prod(
        math.erf(one.tol / one.noise / math.sqrt(2.0)) if one.noise > 0 else 1.0
        for one in resolutions
    )


def sidak_z(n_channels: int, share: float = CONFIDENCE) -> float:
    """Return how many SDs each of n limits needs for a joint share in band (Sidak)."""
    return _NORMAL.inv_cdf((1.0 + share ** (1.0 / n_channels)) / 2.0)


def sits_caution(target: Target) -> str:
    """Say plainly what too few sits leave unknown; empty = there are enough."""
    n = len(target.sits)
    if n >= SITS_WANTED:
        return ""
    sits = "one sit" if n == 1 else f"{n} sits"
    return (
        f"captured from {sits}: what a fresh sit adds is not known; three sits of {STROKES} "
        "strokes would tell"
    )
