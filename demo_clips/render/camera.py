"""The side camera: a pinhole without distortion, level and square to the bike unless turned."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from demo_clips.render.skeleton import turn, yaw

Array = NDArray[np.float64]


@dataclass(frozen=True)
class SideCamera:
    """Where the camera stands and how it sees; metres in the bike frame, pixels in the image.

    Attributes:
        side: side of the bike it stands on, "R" or "L".
        width_px: image width.
        height_px: image height.
        focal_px: focal length.
        distance_m: from the bike's middle plane.
        forward_m: in front of the crank axis.
        up_m: above the crank axis.
        yaw_deg: lens axis turned from square; positive = looks along the travel.
        pitch_deg: positive = looks up.
        roll_deg: positive = upright things lean right in the picture.
    """

    side: str
    width_px: int = 640
    height_px: int = 480
    focal_px: float = 860.0
    distance_m: float = 3.5
    forward_m: float = 0.05
    up_m: float = 0.59
    yaw_deg: float = 0.0
    pitch_deg: float = 0.0
    roll_deg: float = 0.0

    def orbited(self, yaw_deg: float, pitch_deg: float = 0.0) -> SideCamera:
        """This square camera moved round the point it is aimed at, in the bike's middle plane.

        It is as far from that point as before and has it in the middle of the picture.
        """
        along, up = np.radians(yaw_deg), np.radians(pitch_deg)
        return replace(
            self,
            forward_m=self.forward_m - self.distance_m * float(np.sin(along) * np.cos(up)),
            up_m=self.up_m - self.distance_m * float(np.sin(up)),
            distance_m=self.distance_m * float(np.cos(along) * np.cos(up)),
            yaw_deg=yaw_deg,
            pitch_deg=pitch_deg,
        )

    @property
    def sign(self) -> float:
        """1 for the rider's right side, -1 for the left."""
        return 1.0 if self.side == "R" else -1.0

    @property
    def principal_px(self) -> tuple[float, float]:
        """Where the lens axis meets the image: its centre."""
        return self.width_px / 2, self.height_px / 2

    @property
    def position_m(self) -> Array:
        """(3,) the pinhole in the bike frame."""
        return np.array([self.forward_m, self.up_m, self.sign * self.distance_m])

    @property
    def bike_to_camera(self) -> Array:
        """(3, 3) rotation from the bike frame to camera axes: x right, y down, z into the scene.

        The square camera is turned about the upright, then about its own x and then its own z.
        """
        square = np.diag([self.sign, -1.0, -self.sign])
        right = np.array([self.sign, 0.0, 0.0])
        turned = yaw(-self.sign * self.yaw_deg) @ turn(right, self.pitch_deg)
        rolled = turn(np.array([0.0, 0.0, 1.0]), self.roll_deg)
        rotation: Array = rolled @ square @ turned.T
        return rotation

    @property
    def mm_per_px(self) -> float:
        """Millimetres a pixel where the lens axis meets the bike's middle plane."""
        slant = np.cos(np.radians(self.yaw_deg)) * np.cos(np.radians(self.pitch_deg))
        return float(1000 * self.distance_m / slant / self.focal_px)

    def project_px(self, points_m: Array) -> Array:
        """Image points (..., 2) of bike-frame points (..., 3): x right, y down, pixels."""
        seen = (points_m - self.position_m) @ self.bike_to_camera.T
        centre: Array = np.array(self.principal_px)
        points: Array = centre + self.focal_px * seen[..., :2] / seen[..., 2:]
        return points

    def clip_matrix(self, near_m: float = 0.3, far_m: float = 20.0) -> Array:
        """(4, 4) matrix from the bike frame to the clip space of the graphics pipeline."""
        lens = np.zeros((4, 4))
        lens[0, 0] = 2 * self.focal_px / self.width_px
        lens[1, 1] = -2 * self.focal_px / self.height_px
        lens[2, 2] = (far_m + near_m) / (far_m - near_m)
        lens[2, 3] = -2 * far_m * near_m / (far_m - near_m)
        lens[3, 2] = 1.0
        view = np.eye(4)
        view[:3, :3] = self.bike_to_camera
        view[:3, 3] = -self.bike_to_camera @ self.position_m
        matrix: Array = lens @ view
        return matrix


# Every camera of the shipped clips, by the name it has in camera_profile.json.
CAMERAS = {
    "right_side": SideCamera("R"),
    "left_side": SideCamera("L"),
    **{f"right_side_yaw_{deg}": SideCamera("R").orbited(float(deg)) for deg in (5, 10, 15, 45)},
    "right_side_low": SideCamera("R", up_m=0.0),
    "right_side_high": SideCamera("R", up_m=1.68),
}
