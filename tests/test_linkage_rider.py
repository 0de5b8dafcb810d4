"""The synthetic rider against its printed table: what the end-to-end tests stand on."""

from __future__ import annotations

import math

import numpy as np
import pytest
from linkage_rider import HIP_M, Pose, joints_m, ride, to_frame

from posewatch.core import angles
from posewatch.core.landmarks import LANDMARKS
from posewatch.core.records import FloatArray, Side

# Project arithmetic, tolerance 0.02 (degrees) and 0.0001 (m): crank, ankle, knee, knee flexion,
# thigh to the horizontal, hip included.
TABLE = [
    (0, (-0.0700, 0.3050), (0.2093, 0.6489), 109.04, -20.04, 62.04),
    (30, (0.0150, 0.2822), (0.2182, 0.6759), 100.95, -16.35, 58.35),
    (60, (0.0772, 0.2200), (0.2073, 0.6435), 86.28, -20.79, 62.79),
    (90, (0.1000, 0.1350), (0.1725, 0.5720), 68.29, -31.13, 73.13),
    (120, (0.0772, 0.0500), (0.1104, 0.4918), 49.95, -44.34, 86.34),
    (150, (0.0150, -0.0122), (0.0354, 0.4303), 35.68, -56.96, 98.96),
    (180, (-0.0700, -0.0350), (-0.0109, 0.4040), 33.79, -63.88, 105.88),
    (210, (-0.1550, -0.0122), (-0.0077, 0.4056), 45.99, -63.43, 105.43),
    (240, (-0.2172, 0.0500), (0.0228, 0.4224), 63.90, -58.90, 100.90),
    (270, (-0.2400, 0.1350), (0.0679, 0.4535), 82.25, -51.78, 93.78),
    (300, (-0.2172, 0.2200), (0.1224, 0.5045), 97.97, -42.07, 84.07),
    (330, (-0.1550, 0.2822), (0.1756, 0.5772), 107.91, -30.35, 72.35),
]
CRANK_DEG = np.arange(0.0, 360.0, 0.25)


def curves(hip_m: tuple[float, float] = (0.0, 0.0)) -> angles.BodyAngles:
    """Return torso, knee and hip angles over CRANK_DEG with the hip moved."""
    table = [joints_m(Pose(deg, hip_m=hip_m)) for deg in CRANK_DEG]
    joints = (np.array([row[j] for row in table]) for j in ("shoulder", "hip", "knee", "ankle"))
    return angles.body_angles(*joints)


def smallest_flexion_deg(hip_m: tuple[float, float]) -> float:
    return float(curves(hip_m).knee_flexion_deg.min())


@pytest.mark.parametrize(("crank_deg", "ankle", "knee", "flexion", "thigh", "hip"), TABLE)
def test_the_printed_table(
    crank_deg: float,
    ankle: tuple[float, float],
    knee: tuple[float, float],
    flexion: float,
    thigh: float,
    hip: float,
) -> None:
    joints = joints_m(Pose(crank_deg))
    body = angles.body_angles(joints["shoulder"], joints["hip"], joints["knee"], joints["ankle"])
    assert joints["ankle"] == pytest.approx(ankle, abs=1e-4)
    assert joints["knee"] == pytest.approx(knee, abs=1e-4)
    assert body.knee_flexion_deg == pytest.approx(flexion, abs=0.02)
    assert angles.direction_deg(joints["hip"], joints["knee"]) == pytest.approx(thigh, abs=0.02)
    assert body.hip_included_deg == pytest.approx(hip, abs=0.02)
    assert body.torso_deg == pytest.approx(42.0, abs=1e-9)


@pytest.mark.parametrize(
    ("crank_deg", "pedal"),
    [(0, (0.0, 0.17)), (90, (0.17, 0.0)), (180, (0.0, -0.17)), (270, (-0.17, 0.0))],
)
def test_the_pedal_goes_round_clockwise_seen_from_the_right(
    crank_deg: float, pedal: tuple[float, float]
) -> None:
    # Bluetooth cycling-power definition: 0 = 12 o'clock, 90 = forward, seen from the right side.
    ankle = joints_m(Pose(crank_deg))["ankle"]
    assert ankle - (-0.070, 0.135) == pytest.approx(pedal, abs=1e-12)


def test_extremes_are_where_the_table_says() -> None:
    # Project arithmetic: flexion max 109.76 @348.5, min 32.56 @168.5; hip min 58.33 @28.0,
    # max 106.40 @191.75. The extension is not at the bottom: at 180 it is 33.79.
    body = curves()
    for curve, largest, at_largest, smallest, at_smallest in (
        (body.knee_flexion_deg, 109.76, 348.5, 32.56, 168.5),
        (body.hip_included_deg, 106.40, 191.75, 58.33, 28.0),
    ):
        assert curve.max() == pytest.approx(largest, abs=0.02)
        assert CRANK_DEG[curve.argmax()] == pytest.approx(at_largest, abs=0.5)
        assert curve.min() == pytest.approx(smallest, abs=0.02)
        assert CRANK_DEG[curve.argmin()] == pytest.approx(at_smallest, abs=0.5)


@pytest.mark.parametrize(
    ("along_seat_mm", "change_deg"), [(10, -4.99), (-10, 4.34), (20, -11.09), (-20, 8.23)]
)
def test_the_knee_sees_the_saddle_height(along_seat_mm: float, change_deg: float) -> None:
    # Project arithmetic: the hip moved along the line from crank axis to hip.
    share = along_seat_mm / 1000.0 / math.hypot(*HIP_M)
    moved = (HIP_M[0] * share, HIP_M[1] * share)
    change = smallest_flexion_deg(moved) - smallest_flexion_deg((0.0, 0.0))
    assert change == pytest.approx(change_deg, abs=0.02)


@pytest.mark.parametrize(
    ("forward_mm", "change_deg"), [(10, 0.88), (20, 1.67), (-10, -0.97), (-20, -2.03)]
)
def test_the_knee_hardly_sees_a_slide_along_the_saddle(
    forward_mm: float, change_deg: float
) -> None:
    # Project arithmetic, about 0.09 degrees a mm: hence the sitting place is a channel of its own.
    change = smallest_flexion_deg((forward_mm / 1000.0, 0.0)) - smallest_flexion_deg((0.0, 0.0))
    assert change == pytest.approx(change_deg, abs=0.02)


def near_side_px(facing: int, swapped: bool = False) -> FloatArray:
    random = np.random.default_rng(0)
    frame = to_frame(0, Pose(50.0, swapped=swapped), 0.0, random, facing)
    return np.asarray(frame.points_px[LANDMARKS[Side.RIGHT if facing > 0 else Side.LEFT]])


def test_facing_left_is_the_mirror_picture() -> None:
    right, left = near_side_px(1), near_side_px(-1)
    assert left[:, 0] - 300.0 == pytest.approx(300.0 - right[:, 0])
    assert left[:, 1] == pytest.approx(right[:, 1])


def test_swapped_labels_put_the_far_leg_on_the_near_side() -> None:
    random = np.random.default_rng(0)
    far = to_frame(0, Pose(50.0), 0.0, random).points_px[LANDMARKS[Side.LEFT]]
    assert near_side_px(1, swapped=True) == pytest.approx(far)


def test_a_ride_keeps_its_times_and_repeats_to_the_bit() -> None:
    first, second = list(ride(1.0, rate_hz=25.0)), list(ride(1.0, rate_hz=25.0))
    assert [f.t_ns for f in first] == [40_000_000 * k for k in range(25)]
    assert all(np.array_equal(a.points_px, b.points_px) for a, b in zip(first, second, strict=True))


def test_hidden_joints_and_an_empty_picture() -> None:
    random = np.random.default_rng(0)
    knees = [25, 26]
    hidden = to_frame(0, Pose(0.0, hidden=("knee",)), 0.0, random)
    assert np.flatnonzero(hidden.visibility < 0.5).tolist() == knees
    empty = to_frame(0, Pose(0.0, seen=False), 0.0, random)
    assert np.isnan(empty.points_px).all()
    assert not empty.visibility.any()
