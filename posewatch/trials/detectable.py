"""What so many pairs can show, before anything is measured.

A pair is the difference of two items inside one block; pairs are taken as independent and normal.
Differences are in SDs of such differences (Cohen's d_z), since the SD is not known beforehand.
The test is a paired t test, two-sided at ALPHA; its power follows from the noncentral t
distribution with n - 1 degrees of freedom and noncentrality d_z times the root of n (Cohen 1988).
"""

from __future__ import annotations

import math

POWER = 0.80
ALPHA = 0.05
#: Two pairs need 16.3, more pairs less.
_LARGEST_NONCENTRALITY = 20.0


def detectable_difference(n_pairs: int) -> float | None:
    """Return the difference that so many pairs show with POWER, in SDs; None for a single pair.

    A single pair has no scatter to hold a difference against.
    """
    from scipy.optimize import brentq

    if n_pairs < 2:
        return None
    shift = brentq(lambda shift: _power(shift, n_pairs - 1) - POWER, 0.0, _LARGEST_NONCENTRALITY)
    return float(shift) / math.sqrt(n_pairs)


def pairs_needed(difference_sd: float) -> int:
    """Return how many pairs show a difference of so many SDs, above 0, with POWER."""

    def shown_by(n_pairs: int) -> bool:
        least = detectable_difference(n_pairs)
        return least is not None and least <= difference_sd

    enough = 2
    while not shown_by(enough):
        enough *= 2
    too_few = enough // 2
    while enough - too_few > 1:
        middle = (enough + too_few) // 2
        if shown_by(middle):
            enough = middle
        else:
            too_few = middle
    return enough


def smallest_p(n_pairs: int) -> float:
    """Return the smallest two-sided p that the exact sign-flip test can give.

    All differences of one sign are one of the 2^n ways in which signs can fall, and its mirror
    image is the other.
    """
    return min(1.0, 2.0 / 2.0**n_pairs)


def _power(noncentrality: float, df: int) -> float:
    """Return how probably the test at ALPHA shows a difference: the share of noncentral t beyond.

    Of the two limits only the upper: under 1e-4 lies beyond the lower one once the power is
    anywhere near POWER, and scipy has no number for some such shares.
    """
    from scipy import stats

    return float(stats.nct.sf(stats.t.isf(ALPHA / 2, df), df, noncentrality))
