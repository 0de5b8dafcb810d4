"""A target from several sits, in one recording or one each."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

import numpy as np
import pytest
from linkage_rider import CHAIN, MM_PER_PX, Pose, ride

from posewatch.core.capture import MIN_STROKES, MIN_STROKES_A_SIT, Subject, capture
from posewatch.core.envelope import Envelope, Target
from posewatch.core.records import Channel, Frame
from posewatch.errors import BadInput

SUBJECT = Subject("rider", "bike", "hoods")
#: Where each sit has the hip, mm forward of the fitted place; their SD is 5.51 mm.
PLACES_MM = (-5.0, 0.0, 6.0)
SIT_S, STAND_S = 16.0, 2.0
#: A sit of 16 s at 90 rpm holds 24 turns, and strokes from top to top.
STROKES = range(21, 25)


def standing(crank_deg: float) -> Pose:
    return Pose(crank_deg, hip_m=(0.12, 0.03), torso_deg=38.0)


def recording(
    places_mm: Sequence[float], sit_s: float = SIT_S, stand_s: float = STAND_S, after_s: float = 0.0
) -> list[Frame]:
    """Sit in one place after the other and stand up between; after_s: on the pedals at the end."""
    each_s = sit_s + stand_s
    end_s = len(places_mm) * each_s - stand_s

    def pose_at(t_s: float, crank_deg: float) -> Pose:
        if t_s >= end_s or t_s % each_s >= sit_s:
            return standing(crank_deg)
        return Pose(crank_deg, hip_m=(places_mm[int(t_s // each_s)] / 1000.0, 0.0))

    return list(ride(end_s + after_s, pose_at))


def captured(*recordings: list[Frame]) -> Target:
    return capture(recordings, CHAIN, None, SUBJECT, "some sits")


@cache
def three_in_one() -> Target:
    return captured(recording(PLACES_MM))


@cache
def three_in_three() -> Target:
    return captured(*(recording([place]) for place in PLACES_MM))


def mm(target: Target, value: float | None) -> float:
    """Millimetres of the drawn rider in thighs of the picture."""
    assert value is not None
    return value * target.segments.thigh * MM_PER_PX


def sitting(target: Target) -> Envelope:
    return target.envelope(Channel.SITTING_PLACE)


@pytest.mark.parametrize("how", ["in one recording", "in three recordings"])
def test_three_sits_tell_how_far_a_fresh_one_moves_the_hip(how: str) -> None:
    target = three_in_one() if how == "in one recording" else three_in_three()
    assert len(target.sits) == 3
    assert all(n in STROKES for n in target.sits)
    assert target.n_strokes == sum(target.sits)
    assert target.n_dropped <= 2
    # The sits' own spread; the strokes of one sit scatter by 1 px of noise over 20 pictures.
    assert mm(target, sitting(target).resit_sd) == pytest.approx(np.std(PLACES_MM, ddof=1), abs=0.4)
    assert mm(target, sitting(target).stroke_sd) < 1.2
    assert -0.6 < sitting(target).stroke_lag1 < 0.4
    place_mm = (sitting(target).centre[0][0] * target.segments.thigh - 300.0) * MM_PER_PX
    assert place_mm == pytest.approx(-205.0 + np.mean(PLACES_MM), abs=0.8)
    # The torso was the same each time.
    torso = target.envelope(Channel.TORSO)
    assert torso.resit_sd is not None
    assert torso.resit_sd < 0.1


def test_both_ways_of_recording_give_about_the_same_target() -> None:
    one, three = three_in_one(), three_in_three()
    for channel in (Channel.TORSO, Channel.KNEE, Channel.HIP):
        curves = zip(one.envelope(channel).centre, three.envelope(channel).centre, strict=True)
        for mine, theirs in curves:
            assert mine == pytest.approx(theirs, abs=0.3)


def test_a_sit_elsewhere_is_kept_and_told_by_the_spread_of_sits() -> None:
    target = captured(recording((0.0, 20.0, 0.0)))
    assert len(target.sits) == 3
    assert mm(target, sitting(target).resit_sd) == pytest.approx(20.0 / 3**0.5, abs=0.5)
    assert mm(target, sitting(target).stroke_sd) < 1.2


def test_one_sit_of_38_strokes_does_but_does_not_tell_what_a_fresh_sit_adds() -> None:
    target = captured(recording([0.0], sit_s=27.5))
    (n_strokes,) = target.sits
    assert MIN_STROKES <= n_strokes <= 41
    assert [e.resit_sd for e in target.envelopes] == [None] * 6
    assert all(e.stroke_sd > 0 for e in target.envelopes)


def test_two_sits_do_not_tell_it_either() -> None:
    target = captured(recording((0.0, 6.0), sit_s=18.0))
    assert len(target.sits) == 2
    assert sitting(target).resit_sd is None


def test_too_few_strokes_in_all_says_how_many_in_how_many_sits() -> None:
    with pytest.raises(BadInput) as caught:
        captured(recording((0.0, 0.0, 0.0), sit_s=8.0))
    what = caught.value.what
    assert what.startswith("Only ")
    assert 20 <= int(what.split()[1]) < MIN_STROKES
    assert "in some sits, in 3 sits" in what
    assert f"3 sits of {MIN_STROKES_A_SIT}, or one of {MIN_STROKES}" in what


def test_strokes_out_of_the_saddle_are_no_sit_however_alike_they_are() -> None:
    """Eight seconds on the pedals at the end: twelve strokes like one another."""
    target = captured(recording([0.0], sit_s=30.0, after_s=8.0))
    assert len(target.sits) == 1
    place_mm = (sitting(target).centre[0][0] * target.segments.thigh - 300.0) * MM_PER_PX
    assert place_mm == pytest.approx(-205.0, abs=0.8)


def test_a_long_time_out_of_the_saddle_between_costs_no_stroke_of_the_sits() -> None:
    target = captured(recording((0.0, 0.0), sit_s=18.0, stand_s=8.0))
    assert len(target.sits) == 2
    assert min(target.sits) >= 24
    assert target.n_dropped <= 2
