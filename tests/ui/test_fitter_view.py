"""What the fitter's window shows of a target, and of how two differ."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from exact_rider import target as exact_target

from posewatch.core.envelope import NOMINAL_THIGH_MM, LengthUnit, Target, Unit
from posewatch.core.records import BODY_CHANNELS, Channel
from posewatch.core.resolution import resolution
from posewatch.core.target_difference import difference
from posewatch.ui.fitter_view import (
    CRANK_DEG,
    cautions_of,
    channel_shown,
    difference_caution,
    difference_curves,
    difference_lines,
    name_of,
    noise_text,
    origin_of,
    signed,
    snapped,
    widest_of,
)


def moved(target: Target, channel: Channel, by: float, version: int = 2) -> Target:
    """Return the target with one channel's centre moved by so much, in its own unit."""
    envelopes = tuple(
        replace(e, centre=((e.centre[0][0] + by, *e.centre[0][1:]), *e.centre[1:]))
        if e.channel is channel
        else e
        for e in target.envelopes
    )
    return replace(target, envelopes=envelopes, version=version)


@pytest.mark.parametrize(
    ("unit", "size", "limit"),
    [
        (Unit.DEG, 2.44, 2.4),
        (Unit.DEG, 2.46, 2.5),
        (Unit.DEG, 0.0, 0.1),
        (Unit.DEG, -3.0, 0.1),
        (Unit.DEG, 1000.0, widest_of(Unit.DEG)),
        (Unit.MM, 6.3, 6.5),
        (Unit.MM, 6.2, 6.0),
        (Unit.MM, 0.1, 0.5),
        (Unit.THIGH, 7.9, 8.0),
    ],
)
def test_limits_snap_to_tenths_of_a_degree_and_half_mm(
    unit: Unit, size: float, limit: float
) -> None:
    assert snapped(unit, size) == limit


def test_an_angle_is_shown_in_degrees_with_its_own_curve(ridden_target: Target) -> None:
    shown = channel_shown(ridden_target, Channel.KNEE)
    held = ridden_target.envelope(Channel.KNEE)
    assert (shown.unit, shown.step, shown.tol, shown.required) == (
        "\N{DEGREE SIGN}",
        0.1,
        4.0,
        True,
    )
    assert shown.inner == held.inner
    assert shown.curves.shape == (1, len(CRANK_DEG))
    # The linkage rider's knee is nearly straight near the bottom and bent near the top.
    assert 150 < CRANK_DEG[shown.curves[0].argmin()] < 200
    assert shown.curves[0].mean() == pytest.approx(held.centre[0][0], abs=0.5)
    assert shown.curves[0][0] == pytest.approx(shown.curves[0][-1])


def test_a_place_is_shown_in_nominal_mm_from_its_mean(ridden_target: Target) -> None:
    shown = channel_shown(ridden_target, Channel.SITTING_PLACE)
    assert shown.unit == " mm*"
    assert (shown.tol, shown.step) == (pytest.approx(8.0), 0.5)
    assert abs(shown.curves).max() < 5.0
    told = resolution(ridden_target, Channel.SITTING_PLACE)
    assert shown.noise == pytest.approx(NOMINAL_THIGH_MM * told.noise)
    assert channel_shown(ridden_target, Channel.HAND_PLACE).curves.shape == (2, len(CRANK_DEG))


def test_a_calibrated_place_is_in_plain_mm() -> None:
    shown = channel_shown(exact_target(LengthUnit.MM), Channel.SITTING_PLACE)
    assert (shown.unit, shown.tol) == (" mm", 8.0)


@pytest.mark.parametrize("channel", BODY_CHANNELS)
def test_what_a_channel_can_tell_stands_beside_it(ridden_target: Target, channel: Channel) -> None:
    shown, told = channel_shown(ridden_target, channel), resolution(ridden_target, channel)
    words = noise_text(shown)
    assert f"noise {told.noise * told.unit.nominal:.2f}{shown.unit}" in words
    assert f"tells {told.smallest * told.unit.nominal:.2f}{shown.unit}" in words
    assert "under 0.1 false cues" in words
    assert shown.too_tight == told.too_tight == ""


def test_a_tight_limit_says_why_and_how_many_false_cues(ridden_target: Target) -> None:
    narrow = channel_shown(ridden_target.with_tolerance(Channel.KNEE, 0.2), Channel.KNEE)
    assert "SD of one stroke value" in narrow.too_tight
    assert narrow.false_cues > 5
    assert f"{narrow.false_cues:.1f} false cues" in noise_text(narrow)


def test_the_deviations_axis_holds_twice_the_limit_and_changes_seldom(
    ridden_target: Target,
) -> None:
    reaches = {
        channel_shown(ridden_target.with_tolerance(Channel.TORSO, tol), Channel.TORSO).reach
        for tol in np.arange(2.6, 3.01, 0.1).round(1)
    }
    assert reaches == {6.0}


def test_the_heading_names_the_target_and_says_what_it_was_made_of(ridden_target: Target) -> None:
    assert name_of(ridden_target) == "rider / bike / hoods"
    kept = replace(ridden_target, version=3, created="2024-05-01T10:00:00+00:00", author="A. F.")
    assert name_of(kept) == "rider / bike / hoods  v3"
    assert f"{kept.n_strokes} strokes in 1 sit" in origin_of(kept)
    assert origin_of(kept).endswith("kept 2024-05-01 10:00 \N{MIDDLE DOT} by A. F.")
    assert "not kept yet" in origin_of(ridden_target)


def test_one_sit_and_an_uncalibrated_camera_are_said_plainly(ridden_target: Target) -> None:
    one_sit, nominal = cautions_of(ridden_target)
    assert one_sit.startswith("Captured from one sit: what a fresh sit adds is not known")
    assert nominal.startswith("mm*: nominal, for a thigh of 430 mm")
    calibrated = replace(exact_target(LengthUnit.MM), sits=(20, 20, 20))
    assert cautions_of(calibrated) == ()


def test_a_difference_is_said_with_what_can_be_told(ridden_target: Target) -> None:
    lines = difference_lines(ridden_target, moved(ridden_target, Channel.TORSO, 1.5))
    assert [line.channel for line in lines][:3] == ["torso", "knee", "hip"]
    told = difference(ridden_target, ridden_target).curves[0].told
    torso, knee = lines[0], lines[1]
    assert (torso.mean, torso.is_told) == ("+1.50\N{DEGREE SIGN}", True)
    assert torso.told_from == f"{told:.2f}\N{DEGREE SIGN}"
    assert (knee.mean, knee.is_told) == ("0.00\N{DEGREE SIGN}", False)
    assert difference_caution(ridden_target, ridden_target) == ""


def test_the_other_centre_is_drawn_as_a_deviation(ridden_target: Target) -> None:
    other = moved(ridden_target, Channel.TORSO, 1.5)
    curve = difference_curves(other, ridden_target, Channel.TORSO)
    assert curve == pytest.approx(np.full((1, len(CRANK_DEG)), 1.5))
    by = 4.3 / NOMINAL_THIGH_MM
    hands = difference_curves(
        moved(ridden_target, Channel.HAND_PLACE, by), ridden_target, Channel.HAND_PLACE
    )
    assert hands[0] == pytest.approx(4.3)
    assert hands[1] == pytest.approx(0.0)


def test_places_of_another_chain_are_not_compared(ridden_target: Target) -> None:
    other = replace(ridden_target, chain=replace(ridden_target.chain, width_px=1280))
    assert [line.channel for line in difference_lines(other, ridden_target)] == [
        "torso",
        "knee",
        "hip",
    ]
    assert difference_caution(other, ridden_target).startswith("Angles only; the two differ in")
    assert len(difference_curves(other, ridden_target, Channel.SITTING_PLACE)) == 0


def test_a_number_has_a_true_sign_and_zero_has_none() -> None:
    assert signed(-1.25, 1) == "\N{MINUS SIGN}1.2"
    assert signed(1.26, 1) == "+1.3"
    assert signed(-0.04, 1) == "0.0"
