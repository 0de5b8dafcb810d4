"""From the picture to the bike: undistorted, levelled, and in millimetres at each joint's depth.

Bike frame: origin at the crank axis in the bike's middle plane, x in the direction of travel, y up,
z towards the camera on either side of the bike, millimetres. Camera axes: x right, y down, z along
the lens axis into the scene. Image px: x right, y down, (0, 0) at the outer corner of the top left
pixel (OpenCV counts from that pixel's centre: half a pixel less).

A point of the picture is a ray. A joint is where its ray meets the plane of its own depth, so that
neither the camera's yaw, pitch and roll nor the breadth of the rider turns an angle.
"""

from __future__ import annotations

import hashlib
import json
import math
from dataclasses import asdict, dataclass

import numpy as np

from posewatch.core.records import FloatArray, Side

#: Rounds of the fixed-point inversion of the lens distortion; webcam lenses settle in far fewer.
UNDISTORT_ROUNDS = 8
#: Beyond these the view is not square enough: told with the error to expect; no new targets.
YAW_TOLD_DEG = 5.0
YAW_REFUSED_DEG = 8.0
#: Nearer than this the rider's breadth turns angles by degrees for a few centimetres of depth.
DISTANCE_TOLD_MM = 2500.0


@dataclass(frozen=True, slots=True)
class Lens:
    """A pinhole with the usual five distortion numbers (k1, k2, p1, p2, k3; Brown's model).

    fx_px, fy_px: focal lengths. cx_px, cy_px: principal point, image px.
    """

    width_px: int
    height_px: int
    fx_px: float
    fy_px: float
    cx_px: float
    cy_px: float
    distortion: tuple[float, float, float, float, float] = (0.0, 0.0, 0.0, 0.0, 0.0)

    def fingerprint(self) -> str:
        """Return 16 hex digits that change with any of its numbers."""
        return _fingerprint(asdict(self))


@dataclass(frozen=True, slots=True)
class BikeView:
    """Where the camera stands in the bike frame and how it is turned.

    position_mm: the pinhole. rotation: bike frame to camera axes, row by row.
    """

    position_mm: tuple[float, float, float]
    rotation: tuple[float, float, float, float, float, float, float, float, float]

    @property
    def side(self) -> Side:
        """The rider's side that the camera sees: travel to the right in the picture is right."""
        return Side.RIGHT if self.rotation[0] > 0 else Side.LEFT

    @property
    def distance_mm(self) -> float:
        """From the bike's middle plane."""
        return self.position_mm[2]

    @property
    def yaw_deg(self) -> float:
        """How far the lens axis is turned from square; positive = looks along the travel."""
        x, _, z = self.rotation[6:9]
        return math.degrees(math.atan2(x, -z))

    @property
    def pitch_deg(self) -> float:
        """How far the lens axis looks up."""
        return math.degrees(math.asin(max(-1.0, min(1.0, self.rotation[7]))))

    @property
    def roll_deg(self) -> float:
        """How far the upright leans to the right in the picture."""
        return math.degrees(math.atan2(self.rotation[1], -self.rotation[4]))


@dataclass(frozen=True, slots=True)
class JointDepths:
    """How far each near-side joint is from the bike's middle plane towards the camera, mm.

    Defaults: half the breadth of a middling adult seated on a bike, from memory (hip joints about
    180 mm apart, shoulder joints 360, pedals' middles 250); the fitter's own measures are better.
    """

    shoulder: float = 180.0
    elbow: float = 210.0
    wrist: float = 205.0
    hip: float = 90.0
    knee: float = 105.0
    ankle: float = 115.0
    heel: float = 115.0
    toe: float = 125.0


@dataclass(frozen=True, slots=True)
class CameraProfile:
    """A calibrated camera set up beside one bike."""

    lens: Lens
    view: BikeView
    depths: JointDepths = JointDepths()

    def fingerprint(self) -> str:
        """Return 16 hex digits that change with any of its numbers."""
        return _fingerprint(asdict(self))


@dataclass(frozen=True, slots=True, eq=False)
class PlaneMap:
    """A profile made ready for pictures. depths_mm: (8,) float64, rows as ``landmarks.JOINTS``."""

    profile: CameraProfile
    position_mm: FloatArray
    rotation: FloatArray
    depths_mm: FloatArray

    def to_bike_mm(self, points_px: FloatArray, depths_mm: FloatArray | None = None) -> FloatArray:
        """Return (..., n, 2) bike-frame mm (x forward, y up) of (..., n, 2) image points.

        depths_mm: (n,) planes of the points, by default the joints'. A ray that does not meet its
        plane in front of the camera gives NaN.
        """
        depths = self.depths_mm if depths_mm is None else depths_mm
        x, y = undistort(self.profile.lens, points_px)
        (r00, r01, r02), (r10, r11, r12), (r20, r21, r22) = self.rotation.tolist()
        ahead = r02 * x + r12 * y + r22
        with np.errstate(divide="ignore", invalid="ignore"):
            reach = (depths - self.position_mm[2]) / ahead
            reach = np.where(reach > 0, reach, np.nan)
        along = self.position_mm[0] + reach * (r00 * x + r10 * y + r20)
        up = self.position_mm[1] + reach * (r01 * x + r11 * y + r21)
        return np.stack((along, up), axis=-1)


def plane_map(profile: CameraProfile) -> PlaneMap:
    """Return a profile made ready for pictures."""
    return PlaneMap(
        profile,
        np.array(profile.view.position_mm),
        np.array(profile.view.rotation).reshape(3, 3),
        np.array(tuple(asdict(profile.depths).values())),
    )


def undistort(lens: Lens, points_px: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return x and y (...) of the rays of (..., 2) image points, at unit depth.

    Inverts Brown's distortion by fixed-point iteration; D. C. Brown 1966 (from memory), the form
    and order of coefficients that OpenCV documents.
    """
    x0 = (points_px[..., 0] - lens.cx_px) / lens.fx_px
    y0 = (points_px[..., 1] - lens.cy_px) / lens.fy_px
    if not any(lens.distortion):
        return x0, y0
    k1, k2, p1, p2, k3 = lens.distortion
    x, y = x0, y0
    for _ in range(UNDISTORT_ROUNDS):
        r2 = x * x + y * y
        radial = 1.0 + r2 * (k1 + r2 * (k2 + r2 * k3))
        xy = 2.0 * x * y
        x, y = (
            (x0 - p1 * xy - p2 * (r2 + 2.0 * x * x)) / radial,
            (y0 - p2 * xy - p1 * (r2 + 2.0 * y * y)) / radial,
        )
    return x, y


def project_px(lens: Lens, view: BikeView, points_mm: FloatArray) -> FloatArray:
    """Return image px (..., 2) of bike-frame points (..., 3); NaN behind the camera."""
    rotation = np.array(view.rotation).reshape(3, 3)
    seen = (np.asarray(points_mm, np.float64) - np.array(view.position_mm)) @ rotation.T
    depth = np.where(seen[..., 2] > 0, seen[..., 2], np.nan)
    x, y = seen[..., 0] / depth, seen[..., 1] / depth
    k1, k2, p1, p2, k3 = lens.distortion
    r2 = x * x + y * y
    radial = 1.0 + r2 * (k1 + r2 * (k2 + r2 * k3))
    distorted_x = x * radial + 2.0 * p1 * x * y + p2 * (r2 + 2.0 * x * x)
    distorted_y = y * radial + 2.0 * p2 * x * y + p1 * (r2 + 2.0 * y * y)
    return np.stack(
        (lens.cx_px + lens.fx_px * distorted_x, lens.cy_px + lens.fy_px * distorted_y), axis=-1
    )


def view_from_angles(
    side: Side,
    position_mm: tuple[float, float, float],
    yaw_deg: float = 0.0,
    pitch_deg: float = 0.0,
    roll_deg: float = 0.0,
) -> BikeView:
    """Return the view with these angles, as :class:`BikeView` reads them back."""
    yaw, pitch, roll = (math.radians(a) for a in (yaw_deg, pitch_deg, roll_deg))
    axis = np.array(
        (math.sin(yaw) * math.cos(pitch), math.sin(pitch), -math.cos(yaw) * math.cos(pitch))
    )
    # Right and down of a camera without roll; on the left side the picture is a mirror image.
    mirror = 1.0 if side is Side.RIGHT else -1.0
    right = mirror * np.array((math.cos(yaw), 0.0, math.sin(yaw)))
    down = mirror * np.cross(axis, right)
    level = np.array((right, down, axis))
    turn = np.array(
        (
            (math.cos(roll), -math.sin(roll), 0.0),
            (math.sin(roll), math.cos(roll), 0.0),
            (0.0, 0.0, 1.0),
        )
    )
    rotation = turn @ level
    return BikeView(position_mm, tuple(float(v) for v in rotation.ravel()))  # type: ignore[arg-type]


def angle_error_deg(yaw_deg: float, angle_deg: float = 45.0) -> float:
    """Return by how much an uncorrected yaw turns a segment at such an angle (orthographic).

    tan seen = tan true / cos yaw.
    """
    true = math.radians(angle_deg)
    seen = math.atan2(math.sin(true), math.cos(true) * math.cos(math.radians(yaw_deg)))
    return math.degrees(seen - true)


def _fingerprint(parts: dict[str, object]) -> str:
    text = json.dumps(parts, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()[:16]
