"""From the picture to the bike and back, against OpenCV, published formulas and true joints."""

from __future__ import annotations

import math
from dataclasses import asdict, replace

import numpy as np
import pytest
from linkage_rider import Pose, joints_m

from posewatch.camera.opencv import cv2
from posewatch.core.angles import body_angles, direction_deg
from posewatch.core.landmarks import ANKLE, HIP, JOINTS, KNEE, SHOULDER
from posewatch.core.plane import (
    BikeView,
    CameraProfile,
    JointDepths,
    Lens,
    PlaneMap,
    angle_error_deg,
    plane_map,
    project_px,
    undistort,
    view_from_angles,
)
from posewatch.core.records import FloatArray, Side

BENT = Lens(1280, 720, 905.5, 902.25, 655.5, 371.25, (-0.31, 0.12, 0.0011, -0.0007, -0.02))
PLAIN = Lens(640, 480, 860.0, 860.0, 320.0, 240.0)
#: OpenCV's (0, 0) is the middle of the top left pixel, ours its outer corner.
CENTRE_PX = 0.5
SIDES = pytest.mark.parametrize("side", list(Side))


def opencv_numbers(lens: Lens) -> tuple[FloatArray, FloatArray]:
    """Camera matrix and coefficients as OpenCV counts pixels."""
    centre = lens.cx_px - CENTRE_PX, lens.cy_px - CENTRE_PX
    matrix = np.array(((lens.fx_px, 0, centre[0]), (0, lens.fy_px, centre[1]), (0, 0, 1)))
    return matrix, np.array(lens.distortion)


def everywhere_px(lens: Lens, step: float = 40.0) -> FloatArray:
    """Points all over the picture, its corners too."""
    across = np.linspace(0, lens.width_px, 2 + int(lens.width_px / step))
    down = np.linspace(0, lens.height_px, 2 + int(lens.height_px / step))
    return np.stack(np.meshgrid(across, down), axis=-1).reshape(-1, 2)


def beside(
    side: Side = Side.RIGHT, yaw: float = 0.0, pitch: float = 0.0, roll: float = 0.0
) -> BikeView:
    """A camera at 3.5 m that looks at the middle of a rider however it is turned."""
    x = 50.0 - 3500.0 * math.tan(math.radians(yaw))
    return view_from_angles(side, (x, 590.0, 3500.0), yaw, pitch, roll)


def profile(lens: Lens, view: BikeView, depths: JointDepths | None = None) -> CameraProfile:
    return CameraProfile(lens, view, depths or JointDepths())


def test_rays_are_those_of_opencv() -> None:
    points = everywhere_px(BENT)
    x, y = undistort(BENT, points)
    matrix, coefficients = opencv_numbers(BENT)
    rule = (cv2.TERM_CRITERIA_COUNT | cv2.TERM_CRITERIA_EPS, 100, 1e-12)
    theirs = cv2.undistortPoints(points - CENTRE_PX, matrix, coefficients, criteria=rule)
    # Eight rounds leave 0.04 px in the corners of this wide lens, next to nothing elsewhere.
    mine, theirs = np.stack((x, y), axis=-1), theirs.reshape(-1, 2)
    assert mine == pytest.approx(theirs, abs=4e-5)
    middle = np.hypot(x, y) < 0.5
    assert middle.mean() > 0.5
    assert mine[middle] == pytest.approx(theirs[middle], abs=1e-8)


def test_without_distortion_a_ray_is_plain_proportion() -> None:
    x, y = undistort(PLAIN, np.array((320.0 + 86.0, 240.0 - 43.0)))
    assert (float(x), float(y)) == pytest.approx((0.1, -0.05), abs=1e-15)


@SIDES
def test_pictures_are_those_of_opencv(side: Side) -> None:
    random = np.random.default_rng(3)
    view = view_from_angles(side, (210.0, 480.0, 3100.0), 11.0, -4.0, 2.5)
    points = random.uniform((-900, -300, -200), (900, 1400, 200), (50, 3))
    # OpenCV knows no left-handed frames; on the left, z is counted away from the camera for it.
    turn_z = np.diag((1.0, 1.0, 1.0 if side is Side.RIGHT else -1.0))
    rotation = np.array(view.rotation).reshape(3, 3) @ turn_z
    assert np.linalg.det(rotation) == pytest.approx(1.0)
    shift = -rotation @ turn_z @ np.array(view.position_mm)
    matrix, coefficients = opencv_numbers(BENT)
    theirs, _ = cv2.projectPoints(
        points @ turn_z, cv2.Rodrigues(rotation)[0], shift, matrix, coefficients
    )
    mine = project_px(BENT, view, points)
    assert mine - CENTRE_PX == pytest.approx(theirs.reshape(-1, 2), abs=1e-7)


@SIDES
@pytest.mark.parametrize("yaw", [-15.0, 0.0, 8.0])
def test_there_and_back(side: Side, yaw: float) -> None:
    random = np.random.default_rng(5)
    view = beside(side, yaw, 3.0, -2.0)
    depths = random.uniform(-250, 250, 40)
    places = np.stack((random.uniform(-600, 600, 40), random.uniform(0, 1100, 40), depths), axis=-1)
    lens = replace(PLAIN, distortion=(-0.12, 0.05, 0.001, -0.001, 0.0))
    seen = project_px(lens, view, places)
    found = plane_map(profile(lens, view)).to_bike_mm(seen, depths)
    assert found == pytest.approx(places[:, :2], abs=1e-3)


@SIDES
def test_travel_is_to_the_right_only_on_the_right_and_up_is_up(side: Side) -> None:
    view = beside(side, 6.0)
    origin, ahead, above, near = project_px(
        PLAIN, view, np.array(((0, 0, 0), (300, 0, 0), (0, 300, 0), (300, 0, 200)), np.float64)
    )
    assert view.side is side
    assert np.sign(ahead[0] - origin[0]) == (1 if side is Side.RIGHT else -1)
    assert above[1] < origin[1]
    assert abs(near[0] - PLAIN.cx_px) != pytest.approx(abs(ahead[0] - PLAIN.cx_px))


@SIDES
def test_both_sides_see_mirror_images_of_one_bike(side: Side) -> None:
    points = np.array(((500.0, 70.0, 60.0), (-400.0, 70.0, 70.0), (0.0, 900.0, 100.0)))
    right = project_px(PLAIN, beside(Side.RIGHT, 9.0, 2.0), points)
    left = project_px(PLAIN, beside(Side.LEFT, 9.0, 2.0), points)
    assert left[:, 0] == pytest.approx(PLAIN.width_px - right[:, 0])
    assert left[:, 1] == pytest.approx(right[:, 1])


@SIDES
@pytest.mark.parametrize("angles", [(0, 0, 0), (12.5, -3.25, 1.75), (-30.0, 10.0, -20.0)])
def test_angles_are_read_back(side: Side, angles: tuple[float, float, float]) -> None:
    view = view_from_angles(side, (1.0, 2.0, 3000.0), *angles)
    assert (view.yaw_deg, view.pitch_deg, view.roll_deg) == pytest.approx(angles, abs=1e-9)
    assert view.distance_mm == 3000.0
    rows = np.array(view.rotation).reshape(3, 3)
    assert rows @ rows.T == pytest.approx(np.eye(3), abs=1e-12)
    assert np.linalg.det(rows) == pytest.approx(1.0 if side is Side.RIGHT else -1.0)


def test_a_missing_point_stays_missing_and_harms_no_other() -> None:
    to_bike = plane_map(profile(BENT, beside()))
    points = np.full((3, 8, 2), 300.0)
    points[1, 4] = np.nan
    found = to_bike.to_bike_mm(points)
    assert found.shape == (3, 8, 2)
    assert np.isnan(found[1, 4]).all()
    assert np.isfinite(np.delete(found.reshape(24, 2), 12, axis=0)).all()


def test_a_ray_that_never_meets_its_plane_is_missing() -> None:
    # Turned by 80 degrees, the picture's one edge looks away from the bike: 80 + 20.4 > 90.
    view = view_from_angles(Side.RIGHT, (0.0, 0.0, 3500.0), yaw_deg=80.0)
    points = np.array(((0.0, 240.0), (320.0, 240.0), (640.0, 240.0)))
    found = plane_map(profile(PLAIN, view)).to_bike_mm(points, np.zeros(3))
    assert np.isfinite(found[:2]).all()
    assert np.isnan(found[2]).all()
    behind = plane_map(profile(PLAIN, beside())).to_bike_mm(points, np.full(3, 3600.0))
    assert np.isnan(behind).all()
    assert np.isnan(project_px(PLAIN, beside(), np.array((0.0, 0.0, 3600.0)))).all()


# Computed from tan seen = tan true / cos yaw: errors in degrees at these yaws.
YAWS = (5, 10, 15, 20, 30)
YAW_ERRORS = {
    20: (0.07, 0.28, 0.65, 1.17, 2.80),
    30: (0.09, 0.38, 0.87, 1.57, 3.69),
    40: (0.11, 0.43, 0.98, 1.76, 4.10),
    45: (0.11, 0.44, 0.99, 1.78, 4.11),
    50: (0.11, 0.43, 0.97, 1.74, 3.99),
}
YAW_TABLE = [
    (angle, yaw, error)
    for angle, errors in YAW_ERRORS.items()
    for yaw, error in zip(YAWS, errors, strict=True)
]


@pytest.mark.parametrize(("angle", "yaw", "error"), YAW_TABLE)
def test_what_an_uncorrected_yaw_does_to_a_segment(angle: int, yaw: int, error: float) -> None:
    assert angle_error_deg(yaw, angle) == pytest.approx(error, abs=0.01)
    assert angle_error_deg(-yaw, angle) == angle_error_deg(yaw, angle)


@pytest.mark.parametrize(("angle", "yaw", "error"), YAW_TABLE[::3])
def test_a_camera_from_very_far_sees_that_error_and_the_profile_takes_it_away(
    angle: int, yaw: int, error: float
) -> None:
    far = 2.0e6
    view = view_from_angles(Side.RIGHT, (-far * math.tan(math.radians(yaw)), 0.0, far), yaw)
    lens = Lens(640, 480, 5e5, 5e5, 320.0, 240.0)
    turned = math.radians(angle)
    end = 300.0 * np.array((math.cos(turned), math.sin(turned)))
    points = np.array(((0, 0, 0), (*end, 0)))
    seen = project_px(lens, view, points)
    assert direction_deg(*(seen * (1, -1))) - angle == pytest.approx(error, abs=0.015)
    found = plane_map(profile(lens, view)).to_bike_mm(seen, np.zeros(2))
    assert direction_deg(*found) == pytest.approx(angle, abs=1e-6)


@pytest.mark.parametrize("roll", [-7.0, 4.0])
def test_roll_turns_the_torso_by_itself_and_leaves_joints_alone(roll: float) -> None:
    """A picture turned by an angle turns every segment by it, and no angle between two."""
    flat = JointDepths(*[0.0] * 8)
    view = beside(roll=roll)
    points = project_px(PLAIN, view, rider_mm(flat, 130.0))
    uncorrected = angles_of(points * (1, -1))
    true = angles_of(rider_mm(flat, 130.0)[:, :2])
    assert uncorrected - true == pytest.approx([-roll, 0.0, 0.0], abs=1e-9)
    found = plane_map(profile(PLAIN, view, flat)).to_bike_mm(points)
    assert angles_of(found) == pytest.approx(true, abs=1e-9)


def rider_mm(depths: JointDepths, crank_deg: float) -> FloatArray:
    """(8, 3) joints of the linkage rider, each in a plane of its own."""
    places = joints_m(Pose(crank_deg))
    return np.array([(*(1000.0 * places[joint]), depth) for joint, depth in asdict(depths).items()])


def angles_of(points: FloatArray) -> FloatArray:
    """(..., 3) torso, knee and hip of (..., 8, 2) joints."""
    joints = (points[..., joint, :] for joint in (SHOULDER, HIP, KNEE, ANKLE))
    return np.stack(body_angles(*joints), axis=-1)


def worst_deg(to_bike: PlaneMap, depths: JointDepths, flat: bool) -> FloatArray:
    """(3,) largest error of torso, knee and hip over the crank circle."""
    rider = np.stack([rider_mm(depths, crank) for crank in range(0, 360, 10)])
    seen = project_px(PLAIN, to_bike.profile.view, rider)
    found = to_bike.to_bike_mm(seen, np.zeros(8) if flat else None)
    return np.max(np.abs(angles_of(found) - angles_of(rider[..., :2])), axis=0)


TURNED = pytest.mark.parametrize("yaw", [-15.0, -10.0, -5.0, 0.0, 5.0, 10.0, 15.0])


@SIDES
@TURNED
def test_joints_of_a_rider_with_known_depths_are_true_at_any_yaw(side: Side, yaw: float) -> None:
    to_bike = plane_map(profile(PLAIN, beside(side, yaw, 2.0, 1.0)))
    assert worst_deg(to_bike, JointDepths(), flat=False) == pytest.approx([0, 0, 0], abs=1e-6)


@SIDES
@TURNED
def test_usual_depths_do_for_a_rider_a_tenth_broader(side: Side, yaw: float) -> None:
    broader = JointDepths(*[1.1 * depth for depth in asdict(JointDepths()).values()])
    torso, knee, _ = worst_deg(plane_map(profile(PLAIN, beside(side, yaw))), broader, flat=False)
    assert torso <= 0.5
    assert knee <= 0.5


@SIDES
def test_without_depths_a_turned_camera_is_worse(side: Side) -> None:
    """One plane for all joints: the torso is off by degrees, to either side of square."""
    usual = JointDepths()
    torso = [
        worst_deg(plane_map(profile(PLAIN, beside(side, yaw))), usual, flat=True)[0]
        for yaw in (-15.0, 0.0, 15.0)
    ]
    assert torso == pytest.approx([2.88, 0.95, 0.85], abs=0.01)


@SIDES
@pytest.mark.parametrize("yaw", [-15.0, 15.0])
def test_the_picture_itself_is_worse_still(side: Side, yaw: float) -> None:
    rider = np.stack([rider_mm(JointDepths(), crank) for crank in range(0, 360, 10)])
    seen = project_px(PLAIN, beside(side, yaw), rider)
    facing = (1, -1) if side is Side.RIGHT else (-1, -1)
    _, knee, _ = np.max(np.abs(angles_of(seen * facing) - angles_of(rider[..., :2])), axis=0)
    assert knee > 2.0


def test_every_number_changes_the_fingerprint() -> None:
    one = profile(PLAIN, beside())
    others = [
        replace(one, lens=replace(PLAIN, fx_px=860.0000001)),
        replace(one, view=beside(yaw=1e-9)),
        replace(one, depths=replace(one.depths, toe=125.5)),
        one,
    ]
    prints = [other.fingerprint() for other in others]
    assert len(set(prints)) == 4
    assert prints[-1] == profile(PLAIN, beside()).fingerprint()
    assert all(len(text) == 16 for text in prints)
    assert PLAIN.fingerprint() != BENT.fingerprint()


def test_depths_are_in_the_order_of_the_joints() -> None:
    assert tuple(asdict(JointDepths())) == JOINTS
