"""Limits of a target envelope, and what the statistics of repeated strokes ask of them."""

from __future__ import annotations

import math

import pytest
from exact_rider import envelope, target
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from posewatch.core.capture import MIN_STROKES
from posewatch.core.envelope import (
    ADVISORY_BY_DEFAULT,
    DEFAULT_TOLERANCE,
    SHAPE_REQUIRED_BY_DEFAULT,
    Target,
    inner_limit,
)
from posewatch.core.records import BODY_CHANNELS, Channel
from posewatch.core.spreads import SHAPE_FACTOR, SHAPE_PERCENTILE


@pytest.mark.parametrize(
    ("tol", "stroke_sd", "inner"),
    [
        (4.0, 0.0, 3.4),  # 0.15 tol
        (4.0, 0.3, 3.4),  # 2 SD = 0.6 = 0.15 tol
        (4.0, 0.5, 3.0),  # 2 SD
        (4.0, 0.8, 2.4),  # 2 SD = 0.4 tol
        (4.0, 5.0, 2.4),  # at most 0.4 tol
    ],
)
def test_inner_limit(tol: float, stroke_sd: float, inner: float) -> None:
    assert inner_limit(tol, stroke_sd) == pytest.approx(inner)
    assert envelope(Channel.KNEE, stroke_sd).inner == pytest.approx(inner)


@settings(max_examples=100, derandomize=True, deadline=None)
@given(st.floats(0.001, 50.0), st.floats(0.0, 50.0))
def test_the_inner_limit_lies_between_60_and_85_percent_of_the_outer(
    tol: float, stroke_sd: float
) -> None:
    assert 0.6 * tol * 0.999999 <= inner_limit(tol, stroke_sd) <= 0.85 * tol * 1.000001


def test_default_limits_and_what_is_required() -> None:
    assert DEFAULT_TOLERANCE == {
        Channel.TORSO: 3.0,
        Channel.KNEE: 4.0,
        Channel.HIP: 5.0,
        Channel.SITTING_PLACE: 8.0,
        Channel.PELVIS_HEIGHT: 8.0,
        Channel.HAND_PLACE: 20.0,
    }
    assert {Channel.PELVIS_HEIGHT} == ADVISORY_BY_DEFAULT
    assert {Channel.TORSO} == SHAPE_REQUIRED_BY_DEFAULT


def test_a_target_gives_its_envelopes_by_channel() -> None:
    held = target()
    assert [held.envelope(channel).channel for channel in BODY_CHANNELS] == list(BODY_CHANNELS)


def test_another_tolerance_changes_one_channel_only() -> None:
    before = target()
    after = before.with_tolerance(Channel.KNEE, 2.0)
    assert after.envelope(Channel.KNEE).tol == 2.0
    assert after.envelope(Channel.KNEE).inner == pytest.approx(1.6)
    assert before.envelope(Channel.KNEE).tol == 4.0
    for channel in BODY_CHANNELS:
        if channel is not Channel.KNEE:
            assert after.envelope(channel) == before.envelope(channel)


# --- what repeated strokes can say ------------------------------------------------------------


def future_value_factor(n: int) -> float:
    """Half width of the 95 % interval for one more value, in SD: t sqrt(1 + 1/n)."""
    return float(stats.t.ppf(0.975, n - 1)) * math.sqrt(1 + 1 / n)


def tolerance_factor(n: int) -> float:
    """Factor k that covers 95 % of all values with 95 % confidence (Howe's approximation)."""
    z = float(stats.norm.ppf(0.975))
    return z * math.sqrt((n - 1) * (1 + 1 / n) / float(stats.chi2.ppf(0.05, n - 1)))


def test_printed_factors() -> None:
    # Computed: n = 30, t 2.04523, future value 2.07904; 95/95 tolerance factor 2.5496 (tables
    # print 2.549, from memory); three angles in band together 0.8574; joint z 2.394 and 2.388.
    assert float(stats.t.ppf(0.975, 29)) == pytest.approx(2.04523, abs=1e-5)
    assert future_value_factor(30) == pytest.approx(2.07904, abs=1e-5)
    assert tolerance_factor(30) == pytest.approx(2.5496, abs=1e-4)
    assert float(stats.norm.ppf(1 - 0.05 / 6)) == pytest.approx(2.394, abs=1e-3)
    assert float(stats.norm.ppf((1 + 0.95 ** (1 / 3)) / 2)) == pytest.approx(2.388, abs=1e-3)


def test_the_way_back_in_is_a_future_stroke_s_95_percent() -> None:
    # h = 2 SD of the stroke value stands for the half width of one future stroke's 95 % interval
    # from as many strokes as a capture has at least: 2.05, within 3 %.
    h = 10.0 - inner_limit(10.0, 1.0)
    assert h == pytest.approx(future_value_factor(MIN_STROKES), rel=0.03)


def test_default_limits_are_wider_than_what_the_fitted_rider_does(linkage_target: Target) -> None:
    # A band narrower than the noise gives false cues only: each outer limit must cover, with 95 %
    # confidence, 95 % of the strokes of the rider who holds the position (1 px landmark noise).
    k = tolerance_factor(MIN_STROKES)
    for held in linkage_target.envelopes:
        assert held.tol > k * held.stroke_sd


def test_the_shape_limit_is_half_as_much_again_as_the_95th_percentile() -> None:
    assert (SHAPE_FACTOR, SHAPE_PERCENTILE) == (1.5, 95.0)
