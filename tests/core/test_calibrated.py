"""The linkage rider through calibrated cameras: captured and watched in degrees and millimetres."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import cache

import numpy as np
import pytest
from calibrated_cameras import BENT, PLAIN, camera, chain_of
from linkage_rider import CHAIN, Pose, joints_m, ride

from posewatch.core import harmonics, pipeline
from posewatch.core.angles import body_angles
from posewatch.core.capture import Subject, capture
from posewatch.core.doubts import Doubt
from posewatch.core.envelope import LengthUnit, Target, Unit
from posewatch.core.judge import Task
from posewatch.core.outputs import HoldLost, Output, Reason, StrokeJudged
from posewatch.core.pipeline import PipelineState
from posewatch.core.plane import CameraProfile, plane_map
from posewatch.core.records import BODY_CHANNELS, Channel, FloatArray, Frame, Side
from posewatch.core.watch_plan import WatchPlan
from posewatch.errors import BadInput

SUBJECT = Subject("rider", "bike", "hoods")
CRANK_DEG = np.arange(0.0, 360.0, 5.0)
CAPTURE_S = 28.0
#: So little that a curve of 40 strokes is the joints' own to a twentieth of a degree.
NOISE_PX = 0.3
VIEWS = {
    "square, right": camera(Side.RIGHT),
    "square, left": camera(Side.LEFT),
    "yaw 6, right": camera(Side.RIGHT, 6.0, 2.0, 1.5),
    "yaw 6, left": camera(Side.LEFT, 6.0, -2.0, 1.5),
    "yaw -6, right, bent lens": camera(Side.RIGHT, -6.0, 2.0, -1.5, BENT),
    "yaw -6, left, bent lens": camera(Side.LEFT, -6.0, 1.0, 2.0, BENT),
}
EVERY_VIEW = pytest.mark.parametrize("view", VIEWS)

PoseAt = Callable[[float, float], Pose]


@cache
def captured(view: str) -> Target:
    profile = VIEWS[view]
    frames = list(ride(CAPTURE_S, noise_px=NOISE_PX, camera=profile))
    return capture([frames], chain_of(profile), plane_map(profile), SUBJECT, view)


def true_deg() -> dict[Channel, FloatArray]:
    """Return torso and knee of the linkage over CRANK_DEG."""
    joints = [joints_m(Pose(float(deg))) for deg in CRANK_DEG]
    table = (np.array([j[name] for j in joints]) for name in ("shoulder", "hip", "knee", "ankle"))
    angles = body_angles(*table)
    return {Channel.TORSO: angles.torso_deg, Channel.KNEE: angles.knee_flexion_deg}


def curve(target: Target, channel: Channel, number: int = 0) -> FloatArray:
    centre = np.array(target.envelope(channel).centre[number])
    return harmonics.evaluate(centre, np.radians(CRANK_DEG))


def watch(
    target: Target,
    profile: CameraProfile | None,
    frames: Iterable[Frame],
) -> tuple[PipelineState, list[Output]]:
    task = Task(target, WatchPlan(sit_in_s=2.0))
    chain = CHAIN if profile is None else chain_of(profile)
    state = pipeline.start(task, chain, None if profile is None else plane_map(profile))
    outputs: list[Output] = []
    for frame in frames:
        state, said = pipeline.step(task, state, frame)
        outputs += said
    state, said = pipeline.finish(state)
    return state, [*outputs, *said]


def stroke_values(outputs: Iterable[Output], channel: Channel) -> FloatArray:
    return np.array(
        [
            value.deviation
            for one in outputs
            if isinstance(one, StrokeJudged)
            for value in one.channels
            if value.channel is channel
        ]
    )


# --- capture --------------------------------------------------------------------------------------


@EVERY_VIEW
def test_the_target_s_angles_are_the_rider_s_through_any_camera(view: str) -> None:
    target = captured(view)
    for channel, true in true_deg().items():
        assert np.abs(curve(target, channel) - true).max() < 0.2


@EVERY_VIEW
def test_the_target_s_places_are_millimetres_from_the_crank_axis(view: str) -> None:
    # The linkage's hip is 205 mm behind and 800 above the axis, the wrist 420 before and 660 above.
    target = captured(view)
    assert (target.length_unit, target.place_unit) == (LengthUnit.MM, Unit.MM)
    assert curve(target, Channel.SITTING_PLACE) == pytest.approx(-205.0, abs=1.0)
    assert curve(target, Channel.PELVIS_HEIGHT) == pytest.approx(800.0, abs=1.0)
    assert curve(target, Channel.HAND_PLACE, 0) == pytest.approx(420.0, abs=1.0)
    assert curve(target, Channel.HAND_PLACE, 1) == pytest.approx(660.0, abs=1.0)
    crank = target.crank
    assert (crank.centre_x, crank.centre_y) == pytest.approx((-70.0, 135.0), abs=1.0)
    assert crank.radius == pytest.approx(170.0, abs=1.0)
    lengths = (target.segments.trunk, target.segments.thigh, target.segments.shank)
    assert lengths == pytest.approx((520.0, 441.0, 443.0), abs=1.0)
    assert target.leg.thigh == target.segments.thigh
    assert target.leg.curves[0][0] == pytest.approx(-205.0, abs=1.0)
    assert target.side is VIEWS[view].view.side


def test_a_calibrated_target_s_limits_are_millimetres() -> None:
    found = {e.channel: (e.unit, e.tol) for e in captured("square, right").envelopes}
    assert found == {
        Channel.TORSO: (Unit.DEG, 3.0),
        Channel.KNEE: (Unit.DEG, 4.0),
        Channel.HIP: (Unit.DEG, 5.0),
        Channel.SITTING_PLACE: (Unit.MM, 8.0),
        Channel.PELVIS_HEIGHT: (Unit.MM, 8.0),
        Channel.HAND_PLACE: (Unit.MM, 20.0),
    }


def test_uncalibrated_places_are_fractions_of_the_thigh(linkage_target: Target) -> None:
    assert linkage_target.length_unit is LengthUnit.PX
    assert linkage_target.place_unit is Unit.THIGH
    for channel, tol_mm in ((Channel.SITTING_PLACE, 8.0), (Channel.HAND_PLACE, 20.0)):
        found = linkage_target.envelope(channel)
        assert found.unit is Unit.THIGH
        assert found.tol == pytest.approx(tol_mm / 430.0)
    assert linkage_target.place_scale == pytest.approx(1.0 / linkage_target.segments.thigh)


def test_a_turned_camera_without_a_profile_is_off_by_more_than_that() -> None:
    """What the profile takes away: the same pictures, read as if they were flat."""
    frames = list(ride(CAPTURE_S, noise_px=NOISE_PX, camera=VIEWS["yaw 6, right"]))
    flat = capture([frames], CHAIN, None, SUBJECT, "flat")
    worst = [np.abs(curve(flat, channel) - true).max() for channel, true in true_deg().items()]
    assert min(worst) > 0.5


@pytest.mark.parametrize("yaw_deg", [8.1, -8.1])
@pytest.mark.parametrize("side", list(Side))
def test_no_target_is_captured_from_a_camera_far_from_square(side: Side, yaw_deg: float) -> None:
    profile = camera(side, yaw_deg)
    with pytest.raises(BadInput, match=r"turned by [+-]8\.1 degrees from square") as caught:
        capture([], chain_of(profile), plane_map(profile), SUBJECT, "a turned camera")
    assert "posewatch camera level" in caught.value.advice


@pytest.mark.parametrize("yaw_deg", [7.9, -7.9])
def test_a_camera_within_eight_degrees_is_square_enough(yaw_deg: float) -> None:
    profile = camera(Side.RIGHT, yaw_deg)
    with pytest.raises(BadInput, match="No rider is seen"):
        capture([], chain_of(profile), plane_map(profile), SUBJECT, "no pictures")


def test_a_profile_of_the_other_side_sees_no_rider() -> None:
    frames = list(ride(6.0, camera=VIEWS["square, right"]))
    other = VIEWS["square, left"]
    with pytest.raises(BadInput, match="No rider is seen in the other side"):
        capture([frames], chain_of(other), plane_map(other), SUBJECT, "the other side")


# --- watch ----------------------------------------------------------------------------------------


@EVERY_VIEW
def test_a_slide_is_read_in_millimetres_and_an_angle_in_degrees(view: str) -> None:
    def pose_at(t_s: float, crank_deg: float) -> Pose:
        if t_s < 8.0:
            return Pose(crank_deg)
        return Pose(crank_deg, torso_deg=44.0, hip_m=(0.006, 0.0), wrist_m=(0.0, 0.010))

    profile = VIEWS[view]
    frames = ride(14.0, pose_at, noise_px=NOISE_PX, seed=4, camera=profile)
    state, outputs = watch(captured(view), profile, frames)
    assert state.judge.tally.n_strokes >= 13, "all of that is within the limits"
    # A place's stroke value scatters by 0.3 mm here, and a distance is never below zero.
    for channel, change, tolerance in (
        (Channel.TORSO, 2.0, 0.06),
        (Channel.SITTING_PLACE, 6.0, 0.4),
        (Channel.PELVIS_HEIGHT, 0.0, 0.4),
        (Channel.HAND_PLACE, 10.0, 0.5),
    ):
        values = stroke_values(outputs, channel)
        assert values[1:9].mean() == pytest.approx(0.0, abs=tolerance)
        assert values[-6:].mean() == pytest.approx(change, abs=tolerance)


def test_a_slide_beyond_eight_millimetres_is_out_and_rising_by_sixty_leaves_the_saddle() -> None:
    def pose_at(t_s: float, crank_deg: float) -> Pose:
        if 15.0 <= t_s < 17.0:
            return Pose(crank_deg, hip_m=(0.1, 0.064), ankle_m=(0.0, 0.04))
        return Pose(crank_deg, hip_m=(0.0095, 0.0) if 8.0 <= t_s < 11.0 else (0.0, 0.0))

    view = "yaw 6, left"
    frames = ride(18.0, pose_at, noise_px=NOISE_PX, seed=4, camera=VIEWS[view])
    _, outputs = watch(captured(view), VIEWS[view], frames)
    lost = [o for o in outputs if isinstance(o, HoldLost)]
    assert [(o.reason, o.channel) for o in lost] == [
        (Reason.DRIFT, Channel.SITTING_PLACE),
        (Reason.OUT_OF_SADDLE, None),
    ]
    assert lost[1].t_ns == pytest.approx(15.3e9, abs=0.1e9)


def test_a_camera_set_up_anew_within_tolerance_reads_the_same_rider() -> None:
    """The picture shifts by far more than the rider may; the profile of the new place undoes it."""
    there, here = VIEWS["square, right"], camera(Side.RIGHT, 1.8, -1.5, 2.0, PLAIN, 3600.0)
    target = captured("square, right")
    assert target.chain.differences(chain_of(here)) == ()
    frames = list(ride(12.0, noise_px=NOISE_PX, seed=4, camera=here))
    state, outputs = watch(target, here, frames)
    assert state.judge.tally.n_strokes >= 10
    for channel in BODY_CHANNELS:
        size = np.abs(stroke_values(outputs, channel)[1:]).max()
        assert size < (0.2 if channel in (Channel.TORSO, Channel.KNEE, Channel.HIP) else 1.0)
    # With the profile of where it stood the same pictures are another rider's.
    wrongly, _ = watch(target, there, frames)
    assert wrongly.judge.tally.n_strokes == 0


def test_through_a_profile_of_the_other_side_nobody_is_believed() -> None:
    right, left = VIEWS["square, right"], VIEWS["square, left"]
    state, outputs = watch(captured("square, right"), left, ride(6.0, camera=right))
    assert outputs == []
    assert state.last is not None
    assert state.last.body.doubt() == ("shoulder", Doubt.OTHER_WAY)
    assert not state.last.crank.known


def test_a_calibrated_watch_repeats_to_the_bit() -> None:
    view = "yaw -6, left, bent lens"
    frames = list(ride(8.0, seed=6, camera=VIEWS[view]))
    one, two = (watch(captured(view), VIEWS[view], frames)[1] for _ in range(2))
    assert repr(one) == repr(two)
    assert any(isinstance(o, StrokeJudged) for o in one)
