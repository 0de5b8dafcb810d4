"""Bridging: offsets of a new mounting are found, told with their noise, and never taken away."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from linkage_rider import CHAIN, THIGH_M, Pose, ride

from posewatch.core import tracking
from posewatch.core.bridge import (
    BRIDGED,
    HIP_AIM_MM,
    TORSO_AIM_DEG,
    Bridge,
    Offset,
    Within,
    bridge,
    compare_bridges,
    judge_bridge,
    position_fingerprint,
)
from posewatch.core.envelope import ANGLE_CHANNELS, NOMINAL_THIGH_MM, Target, Unit
from posewatch.core.records import Channel
from posewatch.core.resolution import STROKES, effective_strokes
from posewatch.core.tracking import Tracked
from posewatch.errors import BadInput


def followed(
    target: Target, seconds: float, pose: Pose | None = None, seed: int = 4
) -> list[Tracked]:
    """A ride of the linkage rider with this pose's offsets, as a target follows it."""

    def pose_at(t_s: float, crank_deg: float) -> Pose:
        return replace(pose or Pose(0.0), crank_deg=crank_deg)

    state = tracking.with_target(tracking.start(CHAIN, None), target)
    found = []
    for frame in ride(seconds, pose_at, seed=seed):
        state, one = tracking.step(state, frame)
        found.append(one)
    return found


def bridged(
    target: Target, pose: Pose | None = None, mounting: str = "A1", seed: int = 4
) -> Bridge:
    chain = replace(CHAIN, kit="shorts")
    return bridge(followed(target, 20.0, pose, seed), target, chain, mounting, "a ride")


def test_the_same_position_has_no_offset(linkage_target: Target) -> None:
    found = bridged(linkage_target)
    assert (found.n_strokes, found.mounting, found.kit) == (STROKES, "A1", "shorts")
    assert found.target == "rider/bike/hoods/v0"
    assert found.position == position_fingerprint(linkage_target)
    assert tuple(offset.channel for offset in found.offsets) == BRIDGED
    for offset in found.offsets:
        n = effective_strokes(STROKES, offset.stroke_lag1)
        assert offset.standard_error == pytest.approx(offset.stroke_sd / math.sqrt(n))
        # The target's own mean, of the same noise, is a little off too.
        assert abs(offset.mean) < 4.5 * offset.standard_error
    verdict = judge_bridge(found)
    assert verdict.within is Within.YES
    assert verdict.allowed


def test_offsets_are_found_and_the_target_stays(linkage_target: Target) -> None:
    before = linkage_target
    # Torso 2 degrees steeper, hip 6 mm forward and 4 up: an offset of 7.2 mm.
    found = bridged(before, Pose(0.0, torso_deg=44.0, hip_m=(0.006, 0.004)))
    # The landmarks' noise is 1 px a picture, 4 mm: 0.25 mm over both means of twenty strokes.
    assert found.offset(Channel.TORSO).mean == pytest.approx(2.0, abs=0.15)
    to_nominal = NOMINAL_THIGH_MM / (1000.0 * THIGH_M)
    for channel, mm in ((Channel.SITTING_PLACE, 6.0), (Channel.PELVIS_HEIGHT, 4.0)):
        offset = found.offset(channel)
        assert offset.unit is Unit.THIGH
        assert offset.mean * NOMINAL_THIGH_MM == pytest.approx(mm * to_nominal, abs=0.7)
    verdict = judge_bridge(found)
    assert verdict.within is Within.NO
    assert [finding.within for finding in verdict.findings] == [Within.NO, Within.NO]
    assert verdict.findings[1].size == pytest.approx(math.hypot(6, 4) * to_nominal, abs=0.7)
    # A second look gives the same offsets again: nothing was centred anew.
    assert bridged(before, Pose(0.0, torso_deg=44.0, hip_m=(0.006, 0.004))) == found


def test_two_mountings_with_one_offset_may_be_compared(linkage_target: Target) -> None:
    pose = Pose(0.0, torso_deg=44.0, hip_m=(0.006, 0.004))
    one, other = (
        bridged(linkage_target, pose, name, seed) for name, seed in (("A1", 5), ("B1", 6))
    )
    assert not judge_bridge(one).allowed
    assert compare_bridges(one, other).allowed
    assert not compare_bridges(one, bridged(linkage_target)).allowed


def test_too_few_strokes_of_one_sit_are_refused(linkage_target: Target) -> None:
    tracked = followed(linkage_target, 12.0)
    with pytest.raises(BadInput, match=r"At most 1\d good strokes of one sit were found in a clip"):
        bridge(tracked, linkage_target, CHAIN, "A1", "a clip")
    with pytest.raises(BadInput, match="At most 0 good strokes"):
        bridge([], linkage_target, CHAIN, "A1", "a clip")


def test_the_fingerprint_of_a_position_is_of_its_centres(linkage_target: Target) -> None:
    before = position_fingerprint(linkage_target)
    assert len(before) == 16
    kept = replace(linkage_target, version=3, note="x", author="y", created="2026-01-01T00:00:00Z")
    assert position_fingerprint(kept.with_tolerance(Channel.KNEE, 2.0)) == before
    held = linkage_target.envelopes[0]
    curve = (held.centre[0][0] + 0.001, *held.centre[0][1:])
    moved = (replace(held, centre=(curve,)), *linkage_target.envelopes[1:])
    assert position_fingerprint(replace(linkage_target, envelopes=moved)) != before


# --- verdicts, on offsets as stated ------------------------------------------------------------


def stated(
    torso: float = 0.0,
    along_mm: float = 0.0,
    up_mm: float = 0.0,
    errors: tuple[float, float, float] = (0.01, 0.01, 0.01),
    unit: Unit = Unit.MM,
    position: str = "p",
) -> Bridge:
    """A bridge with these offsets and standard errors of torso, sitting place and height."""
    means = {
        Channel.TORSO: (torso, errors[0]),
        Channel.SITTING_PLACE: (along_mm / unit.nominal, errors[1] / unit.nominal),
        Channel.PELVIS_HEIGHT: (up_mm / unit.nominal, errors[2] / unit.nominal),
    }
    offsets = tuple(
        Offset(
            channel,
            Unit.DEG if channel in ANGLE_CHANNELS else unit,
            means.get(channel, (9.0, 0.1))[0],
            1.0,
            0.0,
            means.get(channel, (9.0, 0.1))[1],
        )
        for channel in BRIDGED
    )
    return Bridge("t", position, "c", "A1", "", offsets, STROKES)


Z90 = 1.6449  # standard normal quantile 0.95


@pytest.mark.parametrize(
    ("found", "within"),
    [
        (stated(), Within.YES),
        (stated(torso=0.48), Within.YES),  # 0.48 + 0.016 <= 0.5
        (stated(torso=0.49), Within.UNTOLD),
        (stated(torso=-0.51), Within.UNTOLD),
        (stated(torso=-0.52), Within.NO),  # 0.52 - 0.016 > 0.5
        (stated(along_mm=-2.9), Within.YES),
        (stated(along_mm=2.0, up_mm=-2.1), Within.YES),  # 2.90 mm
        (stated(along_mm=2.2, up_mm=2.2), Within.NO),  # 3.11 mm, each part within
        (stated(along_mm=2.2, up_mm=2.2, unit=Unit.THIGH), Within.NO),
        (stated(errors=(0.31, 0.01, 0.01)), Within.UNTOLD),  # 1.64 x 0.31 > 0.5
        (stated(torso=2.0, errors=(0.01, 5.0, 5.0)), Within.NO),  # one beyond is enough
    ],
)
def test_within_is_the_whole_interval_inside_the_aim(found: Bridge, within: Within) -> None:
    verdict = judge_bridge(found)
    assert verdict.within is within
    assert verdict.allowed == (within is Within.YES)


def test_findings_state_size_uncertainty_and_aim() -> None:
    torso, hip = judge_bridge(stated(-0.2, 3.0, 4.0, (0.1, 0.2, 0.4))).findings
    assert (torso.aim, torso.unit) == (TORSO_AIM_DEG, "deg")
    assert torso.size == pytest.approx(0.2)
    assert torso.uncertainty == pytest.approx(Z90 * 0.1, rel=1e-4)
    assert (hip.aim, hip.unit) == (HIP_AIM_MM, "mm")
    assert hip.size == pytest.approx(5.0)
    # Along the offset's own direction (0.6, 0.8).
    assert hip.uncertainty == pytest.approx(Z90 * math.hypot(0.6 * 0.2, 0.8 * 0.4), rel=1e-4)
    assert judge_bridge(stated(unit=Unit.THIGH)).findings[1].unit == "mm*"


def test_two_mountings_are_compared_by_the_difference_of_their_offsets() -> None:
    one, other = stated(3.0, 10.0, -5.0, (0.1, 0.3, 0.3)), stated(3.1, 9.0, -5.0, (0.2, 0.4, 0.4))
    torso, hip = compare_bridges(one, other).findings
    assert torso.size == pytest.approx(0.1)
    assert torso.uncertainty == pytest.approx(Z90 * math.hypot(0.1, 0.2), rel=1e-4)
    assert hip.size == pytest.approx(1.0)
    assert hip.uncertainty == pytest.approx(Z90 * 0.5, rel=1e-4)
    assert compare_bridges(one, other).allowed
    assert not compare_bridges(one, stated(3.0, 10.0, -1.0)).allowed


def test_mountings_held_against_other_positions_have_nothing_in_common() -> None:
    verdict = compare_bridges(stated(), stated(position="q"))
    assert (verdict.within, verdict.findings) == (Within.NO, ())
    assert "other targets" in verdict.obstacle
