"""What pairs can show, against statsmodels, scipy's own tests and simulated comparisons."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from posewatch.trials.detectable import (
    ALPHA,
    detectable_difference,
    pairs_needed,
    smallest_p,
)


@pytest.mark.parametrize(
    ("difference_sd", "n_pairs"),
    # statsmodels 0.15.0, TTestPower().solve_power(effect_size, power=.8, alpha=.05), rounded up:
    # 33.367, 14.303, 9.938, 7.172, 5.686, 4.221.
    [(0.5, 34), (0.8, 15), (1.0, 10), (1.25, 8), (1.5, 6), (2.0, 5)],
)
def test_pairs_needed_as_statsmodels_says(difference_sd: float, n_pairs: int) -> None:
    assert pairs_needed(difference_sd) == n_pairs


@pytest.mark.parametrize(
    ("n_pairs", "difference_sd"),
    # statsmodels 0.15.0, TTestPower().solve_power(nobs=n, power=.8, alpha=.05); it adds the far
    # tail, too, which is why only five digits agree.
    [
        (2, 11.549889754978167),
        (3, 3.264043552819638),
        (4, 2.1279493431921157),
        (5, 1.6819970833232674),
        (6, 1.4345451395319289),
        (8, 1.156035271959959),
        (10, 0.9960019107624178),
        (20, 0.6604416544380312),
        (34, 0.4950291315285059),
    ],
)
def test_detectable_difference_as_statsmodels_says(n_pairs: int, difference_sd: float) -> None:
    assert detectable_difference(n_pairs) == pytest.approx(difference_sd, rel=1e-5)


def test_a_single_pair_shows_nothing() -> None:
    assert detectable_difference(1) is None
    assert pairs_needed(1000.0) == 2


@pytest.mark.parametrize("n_pairs", [3, 6, 20])
def test_such_a_difference_is_shown_four_times_in_five(n_pairs: int) -> None:
    """20,000 simulated comparisons; the share's SE is 0.003."""
    difference = detectable_difference(n_pairs)
    assert difference is not None
    random = np.random.default_rng(n_pairs)
    pairs = random.normal(difference, 1.0, (20_000, n_pairs))
    p = stats.ttest_1samp(pairs, 0.0, axis=1).pvalue
    assert np.mean(p <= ALPHA) == pytest.approx(0.80, abs=0.012)


@pytest.mark.parametrize(
    ("n_pairs", "p"), [(1, 1.0), (2, 0.5), (3, 0.25), (4, 0.125), (5, 0.0625), (6, 0.03125)]
)
def test_smallest_p_is_two_of_all_ways(n_pairs: int, p: float) -> None:
    assert smallest_p(n_pairs) == p


@pytest.mark.parametrize("n_pairs", [3, 5, 6, 8])
def test_smallest_p_as_scipys_exact_test_gives_it(n_pairs: int) -> None:
    """scipy.stats.permutation_test of differences that are all of one sign, all flips tried."""
    differences = np.arange(1.0, n_pairs + 1.0)
    found = stats.permutation_test(
        (differences,), np.mean, permutation_type="samples", n_resamples=np.inf
    )
    assert found.pvalue == pytest.approx(smallest_p(n_pairs), rel=1e-12)
