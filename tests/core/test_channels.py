"""Deviations from a target's centres, and verdicts of channels and strokes."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from exact_rider import (
    CHAIN_HIP,
    CHAIN_KNEE,
    CHECK_OF,
    HAND_ALONG,
    HAND_UP,
    HEIGHT,
    HIP,
    KNEE,
    TORSO,
    envelope,
    off,
    target,
)

from posewatch.core import channels
from posewatch.core.angles import body_angles
from posewatch.core.belief import BodySample
from posewatch.core.channels import N_COLUMNS
from posewatch.core.crank import UNKNOWN as NO_ANGLE
from posewatch.core.doubts import Doubt
from posewatch.core.landmarks import ANKLE, JOINTS, SHOULDER, WRIST
from posewatch.core.landmarks import HIP as HIP_JOINT
from posewatch.core.landmarks import KNEE as KNEE_JOINT
from posewatch.core.leg_chain import LegEstimate
from posewatch.core.outputs import ChannelValue, Reason
from posewatch.core.records import BODY_CHANNELS, Channel, FloatArray, Side, Verdict
from posewatch.core.strokes import Revolution
from posewatch.core.tracking import Tracked

GOOD, OUT, UNKNOWN = Verdict.GOOD, Verdict.OUT, Verdict.UNKNOWN


def revolution(
    means: FloatArray, spreads: FloatArray | None = None, reason: Reason | None = None
) -> Revolution:
    spreads = np.zeros(N_COLUMNS) if spreads is None else spreads
    return Revolution(0, 600_000_000, means, spreads, (reason,) * N_COLUMNS)


def judge(channel: Channel, means: FloatArray, was_out: bool = False) -> ChannelValue:
    return channels.judge_stroke(envelope(channel), revolution(means), was_out)


#: A leg that lies about the origin; hip, knee and ankle of the chain, of another length.
PLACES = {SHOULDER: (60.0, 40.0), HIP_JOINT: (-10.0, 0.0), KNEE_JOINT: (30.0, -20.0)}
PLACES |= {ANKLE: (10.0, -70.0), WRIST: (90.0, 15.0)}
CHAIN_LEG = np.array(((-8.0, 1.0), (29.0, -18.0), (11.0, -71.0)))


def tracked(leg: LegEstimate | None, hip_seen: bool = True) -> Tracked:
    """One picture's body and leg."""
    points = np.full((len(JOINTS), 2), np.nan)
    for joint, place in PLACES.items():
        points[joint] = place
    angles = [42.0, 70.0, 90.0]
    if not hip_seen:
        points[HIP_JOINT], angles = np.nan, [math.nan] * 3
    doubts = np.full(len(JOINTS), Doubt.NONE, np.uint8)
    body = BodySample(0, points, doubts, points[HIP_JOINT], hip_seen, *angles)
    return Tracked(0, Side.RIGHT, body, NO_ANGLE, leg)


def chain_angles(hip: FloatArray) -> FloatArray:
    """Return torso, knee and hip of the believed shoulder, knee and ankle with this hip."""
    shoulder, knee, ankle = (np.array(PLACES[joint]) for joint in (SHOULDER, KNEE_JOINT, ANKLE))
    return np.array(body_angles(shoulder, hip, knee, ankle))


def test_measured_columns_without_a_leg_s_chain() -> None:
    values = channels.measured_values(tracked(None), 0.01)
    assert values[:7] == pytest.approx([42.0, 70.0, 90.0, -0.1, 0.0, 0.9, 0.15])
    assert np.isnan(values[7:]).all()


def test_the_leg_s_chain_fills_only_the_check_columns_of_a_hip_that_is_seen() -> None:
    values = channels.measured_values(tracked(LegEstimate(CHAIN_LEG, carried=False)), 0.01)
    assert values[:7] == pytest.approx([42.0, 70.0, 90.0, -0.1, 0.0, 0.9, 0.15])
    check = body_angles(np.array(PLACES[SHOULDER]), *CHAIN_LEG)
    assert values[7:] == pytest.approx([check.knee_flexion_deg, check.hip_included_deg])


def test_a_carried_hip_stands_in_for_the_one_that_is_not_believed() -> None:
    values = channels.measured_values(tracked(LegEstimate(CHAIN_LEG, True), hip_seen=False), 0.01)
    # With the knee and ankle that are seen: only the hip is the chain's.
    assert values[:3] == pytest.approx(chain_angles(CHAIN_LEG[0]))
    assert values[3:7] == pytest.approx([-0.08, 0.01, 0.9, 0.15])
    assert np.isfinite(values[7:]).all()


def test_a_hip_that_nobody_carries_has_no_value() -> None:
    values = channels.measured_values(tracked(None, hip_seen=False), 0.01)
    assert np.isnan(values[[0, 1, 2, 3, 4, 7, 8]]).all()


def test_columns_cover_every_body_channel_once_and_the_checks_come_last() -> None:
    assert set(channels.COLUMNS) == set(BODY_CHANNELS)
    columns = sorted(c for some in channels.COLUMNS.values() for c in some)
    assert columns == list(range(channels.N_JUDGED))
    assert sorted(channels.CHECK_COLUMNS.values()) == list(range(channels.N_JUDGED, N_COLUMNS))
    assert {channels.COLUMNS[c][0]: k for c, k in channels.CHECK_COLUMNS.items()} == CHECK_OF


def test_centres_are_those_of_that_crank_angle_and_a_check_has_its_angle_s() -> None:
    held = target()
    curve = (70.0, 37.0, 0.0) + (0.0,) * 10
    envelopes = tuple(
        replace(e, centre=(curve,)) if e.channel is Channel.KNEE else e for e in held.envelopes
    )
    centres = channels.centre_table(replace(held, envelopes=envelopes))
    for angle_rad, centre in ((0.0, 107.0), (math.pi, 33.0), (math.pi / 2 + 4 * math.pi, 70.0)):
        found = channels.centre_at(centres, angle_rad)
        assert found == pytest.approx(off(KNEE, centre))
        assert found[CHAIN_KNEE] == pytest.approx(centre)


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
        means[[CHAIN_KNEE, CHAIN_HIP]] = means[[KNEE, HIP]]
        stroke = revolution(means)
        values = tuple(channels.judge_stroke(limit, stroke, was_out=False) for limit in limits)
        good += channels.stroke_verdict(values)[0] is GOOD
    assert good / 4000 == pytest.approx(share, abs=0.012)


def test_pelvis_height_is_advice() -> None:
    found = judge(Channel.PELVIS_HEIGHT, off(HEIGHT, 0.5))
    assert (found.verdict, found.required) == (OUT, False)


# --- the leg's chain as a check -------------------------------------------------------------------


@pytest.mark.parametrize(("channel", "column"), [(Channel.KNEE, KNEE), (Channel.HIP, HIP)])
@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_an_angle_whose_check_says_otherwise_is_not_known(
    channel: Channel, column: int, sign: float
) -> None:
    def judged(value: float, check: float) -> ChannelValue:
        means = off(column, value)
        means[CHECK_OF[column]] = check
        return judge(channel, means)

    assert judged(1.5, 1.5 + 0.99 * sign).verdict is GOOD
    found = judged(1.5, 1.5 + 1.01 * sign)
    assert (found.verdict, found.reason) == (UNKNOWN, Reason.DISAGREE)
    assert math.isnan(found.deviation)
    # Two that agree on being out are out, and whichever of two that do not is out decides nothing.
    assert judged(9.0, 9.0 + 0.9 * sign).verdict is OUT
    assert judged(9.0, 1.0).verdict is judged(1.0, 9.0).verdict is UNKNOWN


def test_a_check_without_a_value_says_nothing() -> None:
    means = off(KNEE, 1.5)
    means[[CHAIN_KNEE, CHAIN_HIP]] = math.nan
    assert judge(Channel.KNEE, means).verdict is GOOD


def test_a_check_of_one_angle_does_not_touch_the_other_channels() -> None:
    means = np.zeros(N_COLUMNS)
    means[CHAIN_KNEE] = 5.0
    found = {channel: judge(channel, means).verdict for channel in BODY_CHANNELS}
    assert found == {c: UNKNOWN if c is Channel.KNEE else GOOD for c in BODY_CHANNELS}


def test_a_missing_angle_keeps_its_own_reason() -> None:
    reasons = tuple(Reason.HOLE if c == KNEE else None for c in range(N_COLUMNS))
    means = np.zeros(N_COLUMNS)
    means[CHAIN_KNEE] = 5.0
    found = channels.judge_stroke(
        envelope(Channel.KNEE), Revolution(0, 1, means, np.zeros(N_COLUMNS), reasons), was_out=False
    )
    assert (found.verdict, found.reason) == (UNKNOWN, Reason.HOLE)
