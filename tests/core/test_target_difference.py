"""How two targets differ: by how much, where in the turn, and what may not be compared."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from exact_rider import target

from posewatch.core.envelope import LengthUnit, Target, Unit
from posewatch.core.measuring_chain import ViewedFrom
from posewatch.core.records import Channel, Side
from posewatch.core.resolution import told_between
from posewatch.core.target_difference import CurveDifference, TargetDifference, difference


def moved(channel: Channel, row: int, *coefficients: float) -> Target:
    """The target with some first coefficients of one curve changed."""
    before = target()
    held = before.envelope(channel)
    curve = (*coefficients, *held.centre[row][len(coefficients) :])
    centre = (*held.centre[:row], curve, *held.centre[row + 1 :])
    envelopes = (replace(e, centre=centre) if e is held else e for e in before.envelopes)
    return replace(before, envelopes=tuple(envelopes))


def curve(found: TargetDifference, channel: Channel, part: str = "") -> CurveDifference:
    return next(c for c in found.curves if (c.channel, c.part) == (channel, part))


def test_a_target_does_not_differ_from_itself() -> None:
    found = difference(target(), target())
    assert found.obstacles == ()
    assert len(found.curves) == 7
    assert all((c.mean, c.largest, c.ratio) == (0.0, 0.0, 0.0) for c in found.curves)


def test_mean_and_largest_difference_and_where() -> None:
    # 1 + 2 cos t - sin t: mean 1, extremes 1 +- sqrt(5) at atan2(-1, 2) = -26.57 degrees.
    found = curve(difference(target(), moved(Channel.KNEE, 0, 1.0, 2.0, -1.0)), Channel.KNEE)
    assert found.mean == pytest.approx(1.0)
    assert found.largest == pytest.approx(1 + np.sqrt(5), abs=1e-3)
    assert found.largest_deg == 333.0
    assert found.ratio == pytest.approx(1.0 / told_between(target(), target(), Channel.KNEE))


def test_the_largest_keeps_its_sign() -> None:
    found = curve(difference(target(), moved(Channel.TORSO, 0, -2.0, 0.5)), Channel.TORSO)
    assert found.largest == pytest.approx(-2.5)
    assert found.largest_deg == 180.0


def test_the_hand_s_two_parts_are_apart() -> None:
    found = difference(target(), moved(Channel.HAND_PLACE, 1, 0.02))
    assert curve(found, Channel.HAND_PLACE, "forward").mean == 0.0
    assert curve(found, Channel.HAND_PLACE, "up").mean == pytest.approx(0.02)


def test_fractions_of_thighs_seen_differently_are_one_length() -> None:
    # The same place in the picture, 300 px, as a share of a thigh seen 108 and 100 px long.
    before = moved(Channel.SITTING_PLACE, 0, 300 / 108)
    after = moved(Channel.SITTING_PLACE, 0, 300 / 100)
    after = replace(after, segments=replace(after.segments, thigh=100.0))
    found = curve(difference(before, after), Channel.SITTING_PLACE)
    assert found.mean == pytest.approx(0.0, abs=1e-12)


def test_other_chains_sides_and_units_leave_the_angles_only() -> None:
    one = target()
    calibrated = replace(one.chain, view=ViewedFrom("ab", 1.0, 0.0, 3000.0))
    mm = tuple(e if e.unit is Unit.DEG else replace(e, unit=Unit.MM) for e in one.envelopes)
    for other, words in (
        (replace(one, chain=replace(one.chain, model_name="lite")), "chain: model_name"),
        (replace(one, side=Side.LEFT), "near side: right / left"),
        (
            replace(one, chain=calibrated, envelopes=mm, length_unit=LengthUnit.MM),
            "places in: thigh / mm",
        ),
    ):
        found = difference(one, other)
        assert words in "; ".join(found.obstacles)
        assert [c.channel for c in found.curves] == [Channel.TORSO, Channel.KNEE, Channel.HIP]


def test_cameras_that_stand_alike_are_no_obstacle() -> None:
    one = target()
    mm = tuple(e if e.unit is Unit.DEG else replace(e, unit=Unit.MM) for e in one.envelopes)
    views = (ViewedFrom("ab", 1.0, 0.0, 3000.0), ViewedFrom("ab", -0.5, 0.4, 3060.0))
    first, second = (
        replace(
            one,
            chain=replace(one.chain, view=view, camera_profile=str(view)),
            envelopes=mm,
            length_unit=LengthUnit.MM,
        )
        for view in views
    )
    assert difference(first, second).obstacles == ()
