"""What a target can tell, against closed forms, other libraries and seeded simulated riders."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from exact_rider import target
from scipy import signal, stats

from posewatch.core.envelope import Target
from posewatch.core.records import BODY_CHANNELS, Channel, FloatArray
from posewatch.core.resolution import (
    MINUTES,
    MOST_FALSE_CUES,
    SES_TOLD,
    STROKES,
    Resolution,
    crossings_a_stroke,
    effective_strokes,
    joint_share,
    resolution,
    sidak_z,
    sits_caution,
    told_between,
)


def with_noise(
    sd: float, lag1: float, resit_sd: float | None, tol: float, sits: tuple[int, ...]
) -> Target:
    """A target whose torso scatters like this."""
    before = target()
    torso = replace(
        before.envelope(Channel.TORSO),
        stroke_sd=sd,
        stroke_lag1=lag1,
        resit_sd=resit_sd,
        tol=tol,
    )
    return replace(before, envelopes=(torso, *before.envelopes[1:]), sits=sits)


def autoregressive(
    n: int, sd: float, lag1: float, random: np.random.Generator, rows: int = 1
) -> FloatArray:
    """Rows of stationary strokes: AR(1) with this SD and lag-1 correlation."""
    shocks = random.normal(0.0, sd * math.sqrt(1 - lag1**2), (rows, n))
    shocks[:, 0] = random.normal(0.0, sd, rows)
    return np.asarray(signal.lfilter([1.0], [1.0, -lag1], shocks, axis=1), np.float64)


@pytest.mark.parametrize(
    ("n", "lag1", "effective"),
    # Computed in the project's reference arithmetic: n (1 - r) / (1 + r).
    [(300, 0.9, 15.79), (1500, 0.95, 38.46), (30, 0.2, 20.0), (20, -0.5, 20.0), (5, 1.0, 1.0)],
)
def test_effective_strokes(n: int, lag1: float, effective: float) -> None:
    assert effective_strokes(n, lag1) == pytest.approx(effective, abs=0.005)


def test_an_offset_is_told_from_2_80_standard_errors() -> None:
    assert pytest.approx(stats.norm.ppf(0.975) + stats.norm.ppf(0.8)) == SES_TOLD
    assert pytest.approx(2.8016, abs=1e-4) == SES_TOLD


# --- false cues -------------------------------------------------------------------------------


@pytest.mark.parametrize("ratio", [0.5, 1.0, 2.0, 3.0, 6.0])
def test_crossings_of_independent_strokes_are_inside_times_outside(ratio: float) -> None:
    outside = 2 * stats.norm.sf(ratio)
    found = crossings_a_stroke(2.0 * ratio, 2.0, 0.0)
    assert found == pytest.approx(outside * (1 - outside), rel=2e-6)


@pytest.mark.parametrize("ratio", [0.3, 1.0, 2.5])
@pytest.mark.parametrize("lag1", [-0.6, 0.2, 0.7, 0.95, 0.999])
def test_crossings_agree_with_the_bivariate_normal_distribution(ratio: float, lag1: float) -> None:
    # P(|x| <= t, |y| > t) = P(|x| <= t) - P(|x| <= t, |y| <= t), from scipy's own distribution.
    pair = stats.multivariate_normal([0.0, 0.0], [[1.0, lag1], [lag1, 1.0]])
    both = pair.cdf([ratio, ratio], lower_limit=[-ratio, -ratio])
    expected = 1 - 2 * stats.norm.sf(ratio) - both
    assert crossings_a_stroke(ratio, 1.0, lag1) == pytest.approx(expected, abs=2e-6)


def test_no_noise_and_a_noise_that_never_changes_cross_nothing() -> None:
    assert crossings_a_stroke(1.0, 0.0, 0.5) == 0.0
    assert crossings_a_stroke(1.0, 1.0, 1.0) == 0.0


@pytest.mark.parametrize("lag1", [0.0, 0.6, 0.9])
def test_crossings_agree_with_a_simulated_series(lag1: float) -> None:
    strokes = autoregressive(400_000, 0.8, lag1, np.random.default_rng(7))[0]
    outside = np.abs(strokes) > 1.5
    counted = np.mean(outside[1:] & ~outside[:-1])
    assert crossings_a_stroke(1.5, 0.8, lag1) == pytest.approx(counted, rel=0.03)


def test_false_cues_agree_with_simulated_sits() -> None:
    held = with_noise(0.8, 0.5, 0.6, 2.2, (20, 20, 20))
    random = np.random.default_rng(11)
    sits = autoregressive(200, 0.8, 0.5, random, 4000) + random.normal(0.0, 0.6, (4000, 1))
    outside = np.abs(sits) > 2.2
    a_stroke = np.mean(outside[:, 1:] & ~outside[:, :-1])
    found = resolution(held, Channel.TORSO)
    assert found.false_cues == pytest.approx(MINUTES * held.cadence_rpm * a_stroke, rel=0.05)
    assert found.fresh_sd == pytest.approx(1.0)


# --- the smallest offset ----------------------------------------------------------------------


def test_the_smallest_offset_is_told_four_times_in_five() -> None:
    sd, lag1, resit_sd, sits = 0.5, 0.5, 0.4, (25, 25, 25)
    held = with_noise(sd, lag1, resit_sd, 3.0, sits)
    smallest = resolution(held, Channel.TORSO).smallest
    random = np.random.default_rng(3)

    def means(n: int) -> FloatArray:
        """Means of sits of n strokes, 20,000 of them."""
        sit = random.normal(0.0, resit_sd, 20_000)
        strokes = autoregressive(n, sd, lag1, random, 20_000)
        return np.asarray(sit + strokes.mean(axis=1), np.float64)

    centre = (means(25) + means(25) + means(25)) / 3
    limit = smallest / SES_TOLD * stats.norm.ppf(0.975)
    told = np.mean(np.abs(means(STROKES) + smallest - centre) > limit)
    nothing = np.mean(np.abs(means(STROKES) - centre) > limit)
    # n (1 - r) / (1 + r) holds for many strokes and is a little small for twenty.
    assert 0.79 < told < 0.84
    assert 0.03 < nothing < 0.055


def test_the_smallest_offset_by_hand() -> None:
    # B^2 (1 + 1/3) + W^2 (1/10 + 1/30), effective strokes of 20 and 3 x 20 at r = 1/3.
    held = with_noise(0.6, 1 / 3, 0.3, 3.0, (20, 20, 20))
    variance = 0.09 * 4 / 3 + 0.36 * (1 / 10 + 1 / 30)
    assert resolution(held, Channel.TORSO).smallest == pytest.approx(
        2.8016 * math.sqrt(variance), rel=1e-4
    )


def test_more_strokes_do_not_average_a_fresh_sit_away() -> None:
    few = resolution(with_noise(0.0, 0.0, 0.3, 3.0, (20,) * 3), Channel.TORSO)
    many = resolution(with_noise(0.0, 0.0, 0.3, 3.0, (900,) * 3), Channel.TORSO)
    assert few.smallest == pytest.approx(SES_TOLD * 0.3 * math.sqrt(4 / 3))
    assert many.smallest == few.smallest


def test_one_sit_tells_within_one_sit_only_and_says_so() -> None:
    one = with_noise(0.6, 0.0, None, 3.0, (40,))
    found = resolution(one, Channel.TORSO)
    assert found.fresh_sd is None
    assert found.noise == 0.6
    assert found.smallest == pytest.approx(SES_TOLD * 0.6 * math.sqrt(1 / 20 + 1 / 40))
    assert sits_caution(one) == (
        "captured from one sit: what a fresh sit adds is not known; three sits of 20 strokes would "
        "tell"
    )
    assert sits_caution(replace(one, sits=(20, 20))).startswith("captured from 2 sits:")
    assert sits_caution(replace(one, sits=(20, 20, 20))) == ""


def test_between_two_targets_each_has_its_own_noise() -> None:
    one = with_noise(0.6, 0.0, 0.3, 3.0, (30, 30, 30))
    other = with_noise(0.4, 0.5, 0.2, 3.0, (20, 20, 20, 20))
    variance = 0.09 / 3 + 0.36 / 90 + 0.04 / 4 + 0.16 / (80 / 3)
    found = told_between(one, other, Channel.TORSO)
    assert found == pytest.approx(SES_TOLD * math.sqrt(variance))
    assert found == told_between(other, one, Channel.TORSO)


# --- limits tighter than the noise ------------------------------------------------------------


def test_a_limit_under_two_sd_of_a_stroke_with_its_sit_is_too_tight() -> None:
    # SD 0.5 with the sit; the sit is most of it, so that there are few crossings.
    inside = resolution(with_noise(0.03, 0.9, 0.499, 1.01, (20,) * 3), Channel.TORSO)
    beyond = resolution(with_noise(0.03, 0.9, 0.499, 0.99, (20,) * 3), Channel.TORSO)
    assert inside.false_cues < MOST_FALSE_CUES
    assert inside.too_tight == ""
    assert beyond.too_tight == "it is 2.0 SD of one stroke value; at least 2 are needed"


def test_too_many_false_cues_are_too_tight() -> None:
    # Independent strokes at 90 rpm: 2.5 SD gives 900 x 0.0124 x 0.9876 = 11.0 in ten minutes.
    found = resolution(with_noise(1.0, 0.0, None, 2.5, (40,)), Channel.TORSO)
    assert found.false_cues == pytest.approx(11.0, abs=0.1)
    assert "11 false cues in 10 min" in found.too_tight
    assert resolution(with_noise(1.0, 0.0, None, 2.9, (40,)), Channel.TORSO).too_tight == ""


def test_default_limits_are_not_too_tight_for_a_captured_rider(linkage_target: Target) -> None:
    for channel in BODY_CHANNELS:
        assert resolution(linkage_target, channel).too_tight == ""


# --- channels judged together -----------------------------------------------------------------


def found_at(z: float) -> Resolution:
    held = with_noise(0.5, 0.0, None, 0.5 * z, (40,))
    return resolution(held, Channel.TORSO)


def test_three_angles_together() -> None:
    # Computed in the project's reference arithmetic: three angles each at 1.96 SD are all in band
    # with probability 0.8574 if independent; 0.95 takes 2.388 (Sidak; Bonferroni 2.394).
    assert joint_share([found_at(1.959964)] * 3) == pytest.approx(0.8574, abs=1e-4)
    assert sidak_z(3) == pytest.approx(2.388, abs=1e-3)
    assert joint_share([found_at(sidak_z(3))] * 3) == pytest.approx(0.95)
    assert sidak_z(1) == pytest.approx(1.959964)
    assert joint_share([replace(found_at(1.0), stroke_sd=0.0)]) == 1.0
