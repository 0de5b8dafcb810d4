"""One line a need; what is not checked is never ready; only what must be there keeps from it."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest
from linkage_rider import CHAIN

from posewatch.core.doubts import Doubt
from posewatch.core.envelope import Target
from posewatch.core.measuring_chain import MeasuringChain
from posewatch.core.needs import (
    Facts,
    Line,
    Need,
    Readiness,
    SensorFact,
    Sight,
    can_begin,
    gaps_mark,
)
from posewatch.core.plane import CameraProfile, Lens, view_from_angles
from posewatch.core.readiness import readiness
from posewatch.core.records import Side

READY, GAP, MISSING, UNCHECKED = (
    Readiness.READY,
    Readiness.GAP,
    Readiness.MISSING,
    Readiness.UNCHECKED,
)
GOOD_SIGHT = Sight(20.0, 30.0, "", 0.97, None, Side.RIGHT)


def profile(
    yaw_deg: float = 2.0, distance_mm: float = 3000.0, side: Side = Side.RIGHT
) -> CameraProfile:
    view = view_from_angles(side, (0.0, 500.0, distance_mm), yaw_deg, 0.0, 0.0)
    return CameraProfile(Lens(640, 480, 860.0, 860.0, 320.0, 240.0), view)


@pytest.fixture
def good(ridden_target: Target) -> Facts:
    """Everything is ready."""
    return Facts(
        consent_of=ridden_target.rider,
        camera="side camera",
        is_open=True,
        sight=replace(GOOD_SIGHT, side=ridden_target.side),
        profile=profile(side=ridden_target.side),
        profile_known=True,
        target=ridden_target,
        chain=ridden_target.chain,
        rider_asked=True,
        disk_free_bytes=2_000_000_000,
        clock_step_s=0.0,
    )


def line(facts: Facts, need: Need) -> Line:
    return next(one for one in readiness(facts) if one.need is need)


def level(facts: Facts, need: Need) -> Readiness:
    return line(facts, need).level


def test_every_need_has_one_line_in_order(good: Facts) -> None:
    assert [one.need for one in readiness(good)] == list(Need)
    assert [one.need for one in readiness(Facts())] == list(Need)


def test_all_ready_begins_without_gaps(good: Facts) -> None:
    lines = readiness(good)
    assert {one.level for one in lines} == {READY}
    assert not any(one.advice for one in lines)
    assert can_begin(lines)
    assert gaps_mark(lines) == "begun with everything ready"


def test_a_program_just_opened_has_nothing_ready_but_what_is_known() -> None:
    lines = readiness(Facts())
    assert [one.need for one in lines if one.level is READY] == [Need.SENSORS, Need.SOUND]
    assert [one.need for one in lines if one.level is MISSING] == [
        Need.CONSENT,
        Need.CAMERA,
        Need.TARGET,
    ]
    assert not can_begin(lines)


def test_gaps_and_unchecked_needs_are_in_the_record_and_do_not_hinder(good: Facts) -> None:
    lines = readiness(replace(good, sound_on=False, clock_step_s=math.nan))
    assert can_begin(lines)
    assert gaps_mark(lines) == (
        "begun with gaps: sound: gap, switched off; "
        "clock: not checked, needs some seconds of watching"
    )


@pytest.mark.parametrize(
    ("changes", "need"),
    [
        ({"consent_of": ""}, Need.CONSENT),
        ({"consent_of": "somebody else"}, Need.CONSENT),
        ({"camera": ""}, Need.CAMERA),
        ({"is_open": False}, Need.CAMERA),
        ({"is_open": False, "is_opening": True}, Need.CAMERA),
        ({"target": None}, Need.TARGET),
        ({"chain": replace(CHAIN, width_px=1280)}, Need.TARGET),
        ({"disk_free_bytes": 499_999_999}, Need.DISK),
    ],
)
def test_what_is_missing_says_what_to_do(good: Facts, changes: dict[str, Any], need: Need) -> None:
    lines = readiness(replace(good, **changes))
    assert [one.need for one in lines if one.level is MISSING] == [need]
    assert not can_begin(lines)
    assert line(replace(good, **changes), need).advice


def test_no_pictures_is_missing_and_a_trouble_with_pictures_a_gap(good: Facts) -> None:
    dead = replace(good, sight=Sight(), trouble="It was unplugged.")
    assert level(dead, Need.CAMERA) is MISSING
    assert line(dead, Need.CAMERA).advice == "It was unplugged."
    moved = replace(good, trouble="The view moved.")
    assert line(moved, Need.CAMERA) == Line(
        Need.CAMERA, GAP, "The view moved.", "see to it, or know of it"
    )
    # Nothing of the body or the pictures is known of a camera that gives none.
    assert {level(dead, n) for n in (Need.RATE, Need.LIGHT, Need.BODY, Need.SIDE)} == {UNCHECKED}


@pytest.mark.parametrize(
    ("rate_hz", "expected"), [(30.0, READY), (27.1, READY), (26.9, GAP), (33.0, READY), (34.0, GAP)]
)
def test_the_rate_is_held_against_the_targets(
    good: Facts, rate_hz: float, expected: Readiness
) -> None:
    assert good.target is not None
    assert good.target.chain.rate_hz == pytest.approx(30.0)
    seen = replace(good, sight=replace(good.sight, rate_hz=rate_hz))
    assert level(seen, Need.RATE) is expected


@pytest.mark.parametrize(("rate_hz", "expected"), [(25.0, READY), (24.9, GAP)])
def test_without_a_target_25_pictures_a_second_do(
    good: Facts, rate_hz: float, expected: Readiness
) -> None:
    seen = replace(good, target=None, sight=replace(good.sight, rate_hz=rate_hz))
    assert level(seen, Need.RATE) is expected


def test_a_rate_is_not_told_before_it_is_known(good: Facts) -> None:
    early = replace(good, sight=replace(good.sight, running_s=2.9, rate_hz=30.0))
    assert level(early, Need.RATE) is UNCHECKED
    assert level(early, Need.LIGHT) is UNCHECKED


@pytest.mark.parametrize(
    ("light", "expected"), [("", READY), ("The picture is dark.", GAP), (None, UNCHECKED)]
)
def test_light(good: Facts, light: str | None, expected: Readiness) -> None:
    assert level(replace(good, sight=replace(good.sight, light=light)), Need.LIGHT) is expected


def test_a_body_that_is_mostly_not_believed_is_told_with_the_joint(good: Facts) -> None:
    sight = replace(good.sight, seen_share=0.79, doubt=("hip", Doubt.BEHIND_ARM))
    found = line(replace(good, sight=sight), Need.BODY)
    assert (found.level, found.words) == (GAP, "hip: behind the arm")
    nobody = replace(good.sight, seen_share=0.0, doubt=("shoulder", Doubt.NOBODY))
    assert line(replace(good, sight=nobody), Need.BODY).words == "nobody is seen"
    assert level(replace(good, sight=replace(sight, seen_share=0.8)), Need.BODY) is READY


def test_the_other_side_is_missing_by_the_picture_or_by_the_profile(good: Facts) -> None:
    assert good.target is not None
    other = Side.LEFT if good.target.side is Side.RIGHT else Side.RIGHT
    seen = replace(good, sight=replace(good.sight, side=other))
    assert level(seen, Need.SIDE) is MISSING
    unseen = replace(good.sight, side=None)
    assert level(replace(good, sight=unseen), Need.SIDE) is UNCHECKED
    set_up = replace(good, sight=unseen, profile=profile(side=other))
    assert level(set_up, Need.SIDE) is MISSING
    assert level(replace(seen, target=None), Need.SIDE) is READY


# 5 and 8 degrees, 2.5 m: core.plane, as `camera level` tells them.
@pytest.mark.parametrize(
    ("yaw_deg", "distance_mm", "expected", "said"),
    [
        (4.9, 2500.0, READY, "calibrated, +5 degrees off square, 2.5 m"),
        (-5.1, 3000.0, GAP, "off square (-5 degrees)"),
        (8.1, 3000.0, GAP, "too far off square (+8 degrees): no target can be captured"),
        (0.0, 2400.0, GAP, "calibrated, but only 2.4 m away"),
    ],
)
def test_the_profile_is_told_by_yaw_and_distance(
    good: Facts, yaw_deg: float, distance_mm: float, expected: Readiness, said: str
) -> None:
    found = line(replace(good, profile=profile(yaw_deg, distance_mm, Side.RIGHT)), Need.PROFILE)
    assert (found.level, found.words) == (expected, said)


def test_no_profile_is_a_gap_by_choice_and_not_checked_before_it(good: Facts) -> None:
    assert level(replace(good, profile=None), Need.PROFILE) is GAP
    assert level(replace(good, profile=None, profile_known=False), Need.PROFILE) is UNCHECKED


def test_a_target_of_another_chain_names_the_differences(good: Facts) -> None:
    chain: MeasuringChain = replace(
        CHAIN, width_px=1280, height_px=720, model_name="lite", rate_hz=15.0
    )
    found = line(replace(good, chain=chain), Need.TARGET)
    assert found.level is MISSING
    assert "width_px: 640 / 1280; height_px: 480 / 720; " in found.words
    assert "more" in found.words
    assert level(replace(good, chain=chain, any_chain=True), Need.TARGET) is GAP
    assert level(replace(good, chain=None), Need.TARGET) is UNCHECKED


def test_the_rider_is_ready_only_when_asked(good: Facts) -> None:
    asked = line(replace(good, rider_asked=False), Need.RIDER)
    assert (asked.level, asked.advice) == (UNCHECKED, "is it rider, on bike?")


@pytest.mark.parametrize(
    ("free", "expected"),
    [
        (2_000_000_000, READY),
        (1_999_999_999, GAP),
        (500_000_000, GAP),
        (499_999_999, MISSING),
        (0, MISSING),
        (-1, UNCHECKED),
    ],
)
def test_disk(good: Facts, free: int, expected: Readiness) -> None:
    assert level(replace(good, disk_free_bytes=free), Need.DISK) is expected


@pytest.mark.parametrize(
    ("step_s", "expected"), [(0.9, READY), (-1.0, GAP), (3600.0, GAP), (math.nan, UNCHECKED)]
)
def test_clock(good: Facts, step_s: float, expected: Readiness) -> None:
    assert level(replace(good, clock_step_s=step_s), Need.CLOCK) is expected


def test_sound_that_cannot_be_is_a_gap_with_its_reason(good: Facts) -> None:
    found = line(replace(good, no_sound="there is no sound library"), Need.SOUND)
    assert (found.level, found.words) == (GAP, "there is no sound library")


@pytest.mark.parametrize(
    ("sensors", "expected", "words"),
    [
        ((), READY, "none, by choice: power is not held"),
        ((SensorFact("Crank", "power", True),), READY, "power from Crank, live"),
        (
            (SensorFact("Crank", "power", True), SensorFact("Pod", "cadence", True)),
            READY,
            "power from Crank; cadence from Pod, live",
        ),
        (
            (SensorFact("Crank", "power", True), SensorFact("Pod", "cadence", False)),
            GAP,
            "Pod: chosen, but silent",
        ),
        ((SensorFact("Crank", "power"),), UNCHECKED, "Crank: chosen, not heard yet"),
    ],
)
def test_sensors_are_none_by_choice_or_live_or_silent(
    good: Facts, sensors: tuple[SensorFact, ...], expected: Readiness, words: str
) -> None:
    found = line(replace(good, sensors=sensors), Need.SENSORS)
    assert (found.level, found.words) == (expected, words)
    assert bool(found.advice) == (expected is not READY)
    assert can_begin(readiness(replace(good, sensors=sensors)))


def test_a_silent_sensor_says_what_its_link_says(good: Facts) -> None:
    sleeps = SensorFact("Crank", "power", False, "It sleeps. Turn the cranks.")
    found = line(replace(good, sensors=(sleeps,)), Need.SENSORS)
    assert found.advice == "It sleeps. Turn the cranks."


def test_a_power_that_no_sensor_gives_keeps_from_beginning(good: Facts) -> None:
    facts = replace(good, no_power=True)
    assert level(facts, Need.SENSORS) is MISSING
    assert not can_begin(readiness(facts))
