"""A target from a recording: centres, limits, strokes left out, and recordings that will not do."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from linkage_rider import CHAIN, HEIGHT_PX, MM_PER_PX, Pose, joints_m, ride

from posewatch.core import harmonics
from posewatch.core.angles import body_angles
from posewatch.core.capture import MIN_STROKES, Subject, capture
from posewatch.core.envelope import NOMINAL_THIGH_MM, Target
from posewatch.core.records import BODY_CHANNELS, Channel, FloatArray, Frame, Side
from posewatch.errors import BadInput

SUBJECT = Subject("rider", "bike", "hoods", "after the fit")
CRANK_DEG = np.arange(0.0, 360.0, 5.0)


def learned(target: Target, channel: Channel, curve: int = 0) -> FloatArray:
    """Return a channel's centre over CRANK_DEG."""
    centre = np.array(target.envelope(channel).centre[curve])
    return harmonics.evaluate(centre, np.radians(CRANK_DEG))


def true_curves() -> FloatArray:
    """Return torso, knee and hip of the linkage over CRANK_DEG, (3, n)."""
    joints = [joints_m(Pose(deg)) for deg in CRANK_DEG]
    table = (np.array([j[name] for j in joints]) for name in ("shoulder", "hip", "knee", "ankle"))
    return np.array(body_angles(*table))


def test_centres_are_the_linkage_s_curves(linkage_target: Target) -> None:
    # 1 px noise on segments of 108 px makes a picture's knee angle 1.1 degrees uncertain; the
    # curve over 49 strokes must be far better than that everywhere.
    torso, knee, hip = true_curves()
    for channel, true in ((Channel.TORSO, torso), (Channel.KNEE, knee), (Channel.HIP, hip)):
        off = learned(linkage_target, channel) - true
        assert np.abs(off).max() < 0.8
        assert np.sqrt(np.mean(off**2)) < 0.3
        assert abs(off.mean()) < 0.1


def test_the_learned_extremes_are_those_of_the_table(linkage_target: Target) -> None:
    # Project arithmetic: knee flexion max 109.76, min 32.56; hip included min 58.33, max 106.40.
    knee, hip = learned(linkage_target, Channel.KNEE), learned(linkage_target, Channel.HIP)
    assert (knee.max(), knee.min()) == pytest.approx((109.76, 32.56), abs=0.6)
    assert (hip.max(), hip.min()) == pytest.approx((106.40, 58.33), abs=0.6)


def test_places_are_in_thighs_of_the_picture(linkage_target: Target) -> None:
    thigh_px = linkage_target.segments.thigh
    assert thigh_px == pytest.approx(441.0 / MM_PER_PX, abs=0.5)
    assert linkage_target.segments.shank == pytest.approx(443.0 / MM_PER_PX, abs=0.5)
    assert linkage_target.segments.trunk == pytest.approx(520.0 / MM_PER_PX, abs=0.5)
    hip_x = 300.0 - 205.0 / MM_PER_PX
    hip_y = -330.0 + 800.0 / MM_PER_PX
    assert learned(linkage_target, Channel.SITTING_PLACE) * thigh_px == pytest.approx(
        hip_x, abs=0.5
    )
    assert learned(linkage_target, Channel.PELVIS_HEIGHT) * thigh_px == pytest.approx(
        hip_y, abs=0.5
    )
    assert len(linkage_target.envelope(Channel.HAND_PLACE).centre) == 2
    wrist_y = -330.0 + 660.0 / MM_PER_PX
    assert learned(linkage_target, Channel.HAND_PLACE, 1) * thigh_px == pytest.approx(
        wrist_y, abs=0.5
    )


def test_circle_and_map_are_learned_without_any_truth(linkage_target: Target) -> None:
    crank = linkage_target.crank
    ankle = np.array((300.0, -330.0)) + np.array((-70.0, 135.0)) / MM_PER_PX
    assert (crank.centre_x, crank.centre_y) == pytest.approx(ankle, abs=0.3)
    assert crank.radius == pytest.approx(170.0 / MM_PER_PX, abs=0.3)
    assert np.abs(crank.angle_map).max() < math.radians(1.0)


def test_default_limits_and_kinds(linkage_target: Target) -> None:
    assert [e.channel for e in linkage_target.envelopes] == list(BODY_CHANNELS)
    limits = {
        e.channel: e.tol * (1 if e.unit == "deg" else NOMINAL_THIGH_MM)
        for e in linkage_target.envelopes
    }
    assert limits == pytest.approx(
        {
            Channel.TORSO: 3.0,
            Channel.KNEE: 4.0,
            Channel.HIP: 5.0,
            Channel.SITTING_PLACE: 8.0,
            Channel.PELVIS_HEIGHT: 8.0,
            Channel.HAND_PLACE: 20.0,
        }
    )
    assert [e.channel for e in linkage_target.envelopes if not e.required] == [
        Channel.PELVIS_HEIGHT
    ]
    assert [e.channel for e in linkage_target.envelopes if e.shape_required] == [Channel.TORSO]


def test_noise_at_capture_becomes_spread_and_shape_limit(linkage_target: Target) -> None:
    # Segment angle SD = sqrt(2) sigma / L rad: 1 px on a trunk of 128 px = 0.63 degrees a picture;
    # over a stroke of 20 pictures its mean has 0.63 / sqrt(20) = 0.14, its RMS about that 0.6.
    torso = linkage_target.envelope(Channel.TORSO)
    assert torso.stroke_sd == pytest.approx(0.14, abs=0.04)
    assert 1.5 * 0.6 < torso.shape_limit < 1.5 * 0.63 * 1.5
    assert all(e.stroke_sd > 0 and e.shape_limit > 0 for e in linkage_target.envelopes)


def test_what_else_a_target_keeps(
    linkage_target: Target, reference_ride: tuple[Frame, ...]
) -> None:
    assert linkage_target.version == 0
    assert linkage_target.chain == CHAIN
    assert linkage_target.side is Side.RIGHT
    assert linkage_target.cadence_rpm == pytest.approx(90.0, abs=0.3)
    assert MIN_STROKES <= linkage_target.n_strokes <= 50
    assert linkage_target.n_dropped <= 2


def test_strokes_unlike_the_others_are_left_out_and_counted() -> None:
    # 40 s hold 58 strokes; in three separate spells of two strokes the rider looks up or slides.
    def pose_at(t_s: float, crank_deg: float) -> Pose:
        if 12.0 <= t_s < 13.33 or 30.0 <= t_s < 31.33:
            return Pose(crank_deg, torso_deg=50.0)
        if 20.0 <= t_s < 21.33:
            return Pose(crank_deg, hip_m=(-0.03, 0.0))
        return Pose(crank_deg)

    target = capture([list(ride(40.0, pose_at))], CHAIN, None, SUBJECT, "a restless ride")
    assert 6 <= target.n_dropped <= 11
    assert 58 - 1 - 9 - 3 <= target.n_strokes <= 58 - 1 - 6
    torso = learned(target, Channel.TORSO)
    assert torso == pytest.approx(42.0, abs=0.5)
    knee_off = learned(target, Channel.KNEE) - true_curves()[1]
    assert abs(knee_off.mean()) < 0.15
    assert target.note == "after the fit"


def mirrored(frame: Frame) -> Frame:
    """Return the picture as a mirror shows it, left and right labels exchanged."""
    points = np.array([640.0, 0.0]) + frame.points_px * (-1.0, 1.0)
    rows = np.arange(33)
    rows[11:33] = np.arange(11, 33).reshape(-1, 2)[:, ::-1].ravel()
    return Frame(frame.t_ns, points[rows], frame.visibility[rows], frame.presence[rows])


def test_a_rider_facing_left_gives_the_same_numbers(
    linkage_target: Target, reference_ride: tuple[Frame, ...]
) -> None:
    left = capture([[mirrored(f) for f in reference_ride]], CHAIN, None, SUBJECT, "mirrored ride")
    assert left.side is Side.LEFT
    assert (left.n_strokes, left.n_dropped) == (linkage_target.n_strokes, linkage_target.n_dropped)
    for channel in BODY_CHANNELS:
        mine, theirs = left.envelope(channel), linkage_target.envelope(channel)
        assert mine.stroke_sd == pytest.approx(theirs.stroke_sd, rel=1e-6)
        assert mine.shape_limit == pytest.approx(theirs.shape_limit, rel=1e-6)
        for curve, other in zip(mine.centre, theirs.centre, strict=True):
            # Places are seen from the other corner of the picture: only their mean differs.
            assert curve[1:] == pytest.approx(other[1:], abs=1e-6)
    for channel in (Channel.TORSO, Channel.KNEE, Channel.HIP, Channel.PELVIS_HEIGHT):
        mean, other_mean = (t.envelope(channel).centre[0][0] for t in (left, linkage_target))
        assert mean == pytest.approx(other_mean, abs=1e-6)


# --- recordings that will not do --------------------------------------------------------------


def refusal(frames: list[Frame]) -> BadInput:
    with pytest.raises(BadInput) as caught:
        capture([frames], CHAIN, None, SUBJECT, "take three")
    assert "take three" in caught.value.what
    assert caught.value.exit_status == 2
    return caught.value


def test_nobody_in_the_recording() -> None:
    error = refusal(list(ride(4.0, lambda _, crank_deg: Pose(crank_deg, seen=False))))
    assert "No rider is seen" in error.what
    assert "near side" in error.advice


def test_no_pictures_at_all() -> None:
    assert "No rider is seen" in refusal([]).what


def test_a_rider_who_never_pedals() -> None:
    error = refusal(list(ride(6.0, lambda t_s, _: Pose(100.0))))
    assert "Nobody pedals" in error.what
    assert "pedalling" in error.advice


def test_too_few_strokes_says_how_many_there_were() -> None:
    error = refusal(list(ride(14.0)))
    assert error.what.startswith("Only ")
    n_good = int(error.what.split()[1])
    assert 12 <= n_good <= 20
    assert str(MIN_STROKES) in error.what
    assert "steady 60 to 110 rpm" in error.advice
    assert "sit down again" in error.advice


def test_a_rider_who_pedals_too_slowly() -> None:
    error = refusal(list(ride(20.0, rpm=30.0)))
    assert "Nobody pedals" in error.what


def test_a_rider_whose_legs_are_hidden() -> None:
    error = refusal(list(ride(5.0, lambda _, deg: Pose(deg, hidden=("knee", "ankle")))))
    assert "No rider is seen" in error.what


def test_the_picture_s_size_comes_from_the_chain(reference_ride: tuple[Frame, ...]) -> None:
    # In a picture that ends above the pedals no ankle is inside.
    cropped = replace(CHAIN, height_px=HEIGHT_PX - 250)
    with pytest.raises(BadInput, match="No rider"):
        capture([reference_ride[:150]], cropped, None, SUBJECT, "a cropped ride")


def test_a_wrong_start_does_not_stay_for_ever() -> None:
    frames = list(ride(40.0))
    for frame in frames[:20]:
        frame.points_px[:] *= 0.75
    found = capture([frames], CHAIN, None, Subject("r", "b", "hoods"), "ride")
    assert found.n_strokes >= 50
