"""Deviations from a target's centres, and verdicts of channels and strokes."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from exact_rider import HAND_ALONG, HAND_UP, HEIGHT, KNEE, TORSO, envelope, off, target

from posewatch.core import channels
from posewatch.core.channels import N_COLUMNS
from posewatch.core.landmarks import HIP, JOINTS, WRIST, BodySample
from posewatch.core.outputs import ChannelValue, Reason
from posewatch.core.records import BODY_CHANNELS, Channel, FloatArray, Verdict
from posewatch.core.strokes import Revolution

GOOD, OUT, UNKNOWN = Verdict.GOOD, Verdict.OUT, Verdict.UNKNOWN


def revolution(
    means: FloatArray, spreads: FloatArray | None = None, reason: Reason | None = None
) -> Revolution:
    spreads = np.zeros(N_COLUMNS) if spreads is None else spreads
    return Revolution(0, 600_000_000, means, spreads, (reason,) * N_COLUMNS)


def judge(channel: Channel, means: FloatArray, was_out: bool = False) -> ChannelValue:
    return channels.judge_stroke(envelope(channel), revolution(means), was_out)


def test_measured_columns() -> None:
    points = np.full((len(JOINTS), 2), np.nan)
    points[HIP], points[WRIST] = (250.0, -150.0), (400.0, -180.0)
    values = channels.measured_values(BodySample(0, points, True, 42.0, 70.0, 90.0), 100.0)
    assert values == pytest.approx([42.0, 70.0, 90.0, 2.5, -1.5, 4.0, -1.8])


def test_columns_cover_every_body_channel_once() -> None:
    assert set(channels.COLUMNS) == set(BODY_CHANNELS)
    assert sorted(c for some in channels.COLUMNS.values() for c in some) == list(range(N_COLUMNS))


def test_deviations_are_measured_minus_the_centre_at_that_crank_angle() -> None:
    held = target()
    curve = (70.0, 37.0, 0.0) + (0.0,) * 10
    envelopes = tuple(
        replace(e, centre=(curve,)) if e.channel is Channel.KNEE else e for e in held.envelopes
    )
    centres = channels.centre_table(replace(held, envelopes=envelopes))
    for angle_rad, centre in ((0.0, 107.0), (math.pi, 33.0), (math.pi / 2 + 4 * math.pi, 70.0)):
        away = channels.deviations(off(KNEE, 71.0), centres, angle_rad)
        assert away == pytest.approx(off(KNEE, 71.0 - centre))


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_beyond_the_outer_limit_is_out(sign: float) -> None:
    assert judge(Channel.KNEE, off(KNEE, sign * 4.0)).verdict is GOOD
    found = judge(Channel.KNEE, off(KNEE, sign * 4.01))
    assert found.verdict is OUT
    assert found.deviation == pytest.approx(sign * 4.01)


@pytest.mark.parametrize(("size", "verdict"), [(3.4, GOOD), (3.41, OUT), (3.99, OUT), (4.5, OUT)])
def test_a_channel_that_was_out_must_come_back_inside_the_inner_limit(
    size: float, verdict: Verdict
) -> None:
    assert judge(Channel.KNEE, off(KNEE, size), was_out=True).verdict is verdict


def test_the_hand_place_is_one_distance() -> None:
    tol = envelope(Channel.HAND_PLACE).tol
    place = off(HAND_ALONG, 0.9 * tol) - off(HAND_UP, 0.5 * tol)
    found = judge(Channel.HAND_PLACE, place)
    assert found.deviation == pytest.approx(math.hypot(0.9, 0.5) * tol)
    assert found.verdict is OUT
    assert (found.along, found.up) == pytest.approx((0.9 * tol, -0.5 * tol))
    assert judge(Channel.HAND_PLACE, off(HAND_UP, -0.9 * tol)).verdict is GOOD


def test_a_torso_that_bobs_is_out_though_its_mean_is_right() -> None:
    bobbing = revolution(np.zeros(N_COLUMNS), off(TORSO, 1.01))
    found = channels.judge_stroke(envelope(Channel.TORSO), bobbing, was_out=False)
    assert (found.verdict, found.deviation) == (OUT, 0.0)
    calm = revolution(np.zeros(N_COLUMNS), off(TORSO, 0.99))
    assert channels.judge_stroke(envelope(Channel.TORSO), calm, was_out=False).verdict is GOOD


def test_the_shape_of_other_channels_is_advice() -> None:
    shaky = revolution(np.zeros(N_COLUMNS), np.full(N_COLUMNS, 5.0))
    for channel in BODY_CHANNELS:
        found = channels.judge_stroke(envelope(channel), shaky, was_out=False)
        assert found.verdict is (OUT if channel is Channel.TORSO else GOOD)


@pytest.mark.parametrize("channel", BODY_CHANNELS)
def test_a_column_without_a_value_is_unknown_for_its_reason(channel: Channel) -> None:
    nothing = revolution(
        np.full(N_COLUMNS, np.nan), np.full(N_COLUMNS, np.nan), Reason.NOT_BELIEVED
    )
    found = channels.judge_stroke(envelope(channel), nothing, was_out=False)
    assert (found.verdict, found.reason) == (UNKNOWN, Reason.NOT_BELIEVED)
    assert math.isnan(found.deviation)


def test_half_a_hand_place_is_none() -> None:
    reasons = tuple(Reason.HOLE if c == HAND_UP else None for c in range(N_COLUMNS))
    half = Revolution(0, 1, off(HAND_UP, np.nan), np.zeros(N_COLUMNS), reasons)
    found = channels.judge_stroke(envelope(Channel.HAND_PLACE), half, was_out=False)
    assert (found.verdict, found.reason) == (UNKNOWN, Reason.HOLE)
    assert math.isnan(found.along)


def test_effort_limits() -> None:
    def verdict(watts: float, was_out: bool = False) -> Verdict:
        return channels.judge_effort(Channel.POWER, watts, 200.0, 14.0, was_out).verdict

    assert (verdict(214.0), verdict(214.1), verdict(185.9)) == (GOOD, OUT, OUT)
    assert (verdict(211.0, True), verdict(212.5, True)) == (GOOD, OUT)
    missing = channels.judge_effort(Channel.POWER, math.nan, 200.0, 14.0, was_out=False)
    assert (missing.verdict, missing.reason) == (UNKNOWN, Reason.NO_EFFORT)


def one(verdict: Verdict, required: bool = True, reason: Reason | None = None) -> ChannelValue:
    return ChannelValue(Channel.KNEE, 0.0, 0.0, verdict, required, reason)


HOLE = one(UNKNOWN, reason=Reason.HOLE)


@pytest.mark.parametrize(
    ("values", "verdict", "reason"),
    [
        ((one(GOOD), one(GOOD)), GOOD, None),
        ((one(GOOD), one(OUT)), OUT, None),
        ((one(GOOD), HOLE), UNKNOWN, Reason.HOLE),
        ((HOLE, one(OUT)), OUT, None),
        ((one(GOOD), one(OUT, required=False)), GOOD, None),
        ((one(GOOD), one(UNKNOWN, required=False, reason=Reason.HOLE)), GOOD, None),
    ],
)
def test_a_stroke_is_judged_over_its_required_channels(
    values: tuple[ChannelValue, ...], verdict: Verdict, reason: Reason | None
) -> None:
    assert channels.stroke_verdict(values) == (verdict, reason)


@pytest.mark.parametrize(("z", "share"), [(1.96, 0.8574), (2.394, 0.950), (2.388, 0.950)])
def test_three_angles_in_band_together(z: float, share: float) -> None:
    # Computed: independent normal angles, each within 1.96 SD, are all within 85.74 % of the time;
    # 95 % together needs 2.394 (Bonferroni) or 2.388 (Sidak). Here counted on seeded strokes.
    random = np.random.default_rng(3)
    angles = (Channel.TORSO, Channel.KNEE, Channel.HIP)
    limits = [replace(envelope(channel), tol=z) for channel in angles]
    good = 0
    for _ in range(4000):
        means = np.zeros(N_COLUMNS)
        means[:3] = random.normal(size=3)
        stroke = revolution(means)
        values = tuple(channels.judge_stroke(limit, stroke, was_out=False) for limit in limits)
        good += channels.stroke_verdict(values)[0] is GOOD
    assert good / 4000 == pytest.approx(share, abs=0.012)


def test_pelvis_height_is_advice() -> None:
    found = judge(Channel.PELVIS_HEIGHT, off(HEIGHT, 0.5))
    assert (found.verdict, found.required) == (OUT, False)
