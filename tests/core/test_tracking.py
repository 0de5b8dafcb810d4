"""From pictures' landmarks to body and crank, on the drawn rider."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

import numpy as np
import pytest
from linkage_rider import HEIGHT_PX, WIDTH_PX, Pose, joints_m, ride

from posewatch.core import tracking
from posewatch.core.angles import body_angles
from posewatch.core.envelope import Target
from posewatch.core.records import FloatArray, Frame, Side
from posewatch.core.tracking import Tracked


def track(frames: Iterable[Frame], target: Target | None = None) -> list[Tracked]:
    state = tracking.start(WIDTH_PX, HEIGHT_PX, target)
    found = []
    for frame in frames:
        state, tracked = tracking.step(state, frame)
        found.append(tracked)
    return found


def crank_off_deg(found: Sequence[Tracked], rpm: float, after_s: float = 2.0) -> FloatArray:
    """Return the errors of the crank angle against the even turning that drew the rider."""
    rows = [(t.t_ns / 1e9, t.crank.angle_rad) for t in found if t.crank.known]
    t_s, angle = np.array(rows).T
    off = np.degrees(angle) - 6.0 * rpm * t_s
    return np.asarray(((off + 180.0) % 360.0 - 180.0)[t_s >= after_s])


@pytest.mark.parametrize("rate_hz", [25.0, 30.0, 60.0])
def test_crank_angle_of_a_drawn_rider_without_a_target(rate_hz: float) -> None:
    found = track(ride(8.0, rate_hz=rate_hz))
    off = crank_off_deg(found, 90.0, 3.0)
    assert len(off) == pytest.approx(5.0 * rate_hz, abs=1)
    assert off.std() <= 3.5
    assert np.abs(off).max() <= 15.0


@pytest.mark.parametrize("facing", [1, -1])
def test_crank_angle_and_side_facing_either_way(facing: int, linkage_target: Target) -> None:
    # A left-side camera mirrors the picture: the crank must still turn forward.
    target = linkage_target if facing > 0 else None
    found = track(ride(6.0, facing=facing), target)
    off = crank_off_deg(found, 90.0)
    assert off.std() <= 3.5
    assert np.abs(off).max() <= 15.0
    assert {t.side for t in found[20:]} == {Side.RIGHT if facing > 0 else Side.LEFT}
    assert all(t.crank.speed_rad_s > 0 for t in found[80:])


def test_before_the_facing_is_known_nothing_is_said() -> None:
    first = track(ride(0.4))
    assert all(t.side is None and not t.body.seen and not t.crank.known for t in first)


def test_angles_of_a_drawn_rider() -> None:
    found = track(ride(3.0, noise_px=0.0))
    for tracked in found[20:]:
        joints = joints_m(Pose(540.0 * tracked.t_ns / 1e9))
        true = body_angles(*(joints[j] for j in ("shoulder", "hip", "knee", "ankle")))
        assert tracked.body.torso_deg == pytest.approx(float(true.torso_deg), abs=0.1)
        assert tracked.body.knee_flexion_deg == pytest.approx(float(true.knee_flexion_deg), abs=0.1)
        assert tracked.body.hip_included_deg == pytest.approx(float(true.hip_included_deg), abs=0.1)


def with_pictures(pose_of: Callable[[int, float], Pose], seconds: float = 6.0) -> list[Frame]:
    return list(ride(seconds, lambda t_s, crank_deg: pose_of(round(t_s * 30), crank_deg)))


def test_swapped_legs_are_put_right_body_and_all(linkage_target: Target) -> None:
    def pose_of(index: int, crank_deg: float) -> Pose:
        return Pose(crank_deg, swapped=90 <= index < 100 or index % 13 == 5)

    clean = track(with_pictures(lambda _, crank_deg: Pose(crank_deg)), linkage_target)
    found = track(with_pictures(pose_of), linkage_target)
    assert np.abs(crank_off_deg(found, 90.0)).max() <= 15.0
    for one, other in zip(found[60:], clean[60:], strict=True):
        if one.body.seen:
            # The drawn noise is another on the other label's landmarks.
            assert abs(one.body.knee_flexion_deg - other.body.knee_flexion_deg) < 6.0
    assert np.mean([t.body.seen for t in found[60:]]) > 0.97


def test_nobody_and_hidden_joints_are_not_believed(linkage_target: Target) -> None:
    def pose_of(index: int, crank_deg: float) -> Pose:
        return Pose(crank_deg, seen=not 90 <= index < 95, hidden=("knee",) if index == 120 else ())

    found = track(with_pictures(pose_of), linkage_target)
    unseen = {index for index, t in enumerate(found[60:], 60) if not t.body.seen}
    assert unseen == {90, 91, 92, 93, 94, 120}
    assert all(not t.crank.measured for t in found[90:95])
    assert found[120].crank.measured
    assert np.isnan(found[120].body.knee_flexion_deg)
    assert not np.isnan(found[120].body.torso_deg)


def test_a_rider_half_as_large_is_not_the_target_s(linkage_target: Target) -> None:
    def small(frame: Frame) -> Frame:
        points = (frame.points_px - (300.0, 330.0)) * 0.5 + (300.0, 330.0)
        return Frame(frame.t_ns, points, frame.visibility, frame.presence)

    found = track(map(small, ride(3.0)), linkage_target)
    assert not any(t.body.seen for t in found)


def test_the_same_pictures_give_the_same_numbers_to_the_bit(linkage_target: Target) -> None:
    frames = list(ride(3.0))
    one, two = track(frames, linkage_target), track(frames, linkage_target)
    for a, b in zip(one, two, strict=True):
        assert a.crank == b.crank or not a.crank.known
        assert a.body.points_px.tobytes() == b.body.points_px.tobytes()
