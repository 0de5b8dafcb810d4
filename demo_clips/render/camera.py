"""The side camera: a pinhole without distortion, level, its lens axis square to the bike."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

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
    """

    side: str
    width_px: int = 640
    height_px: int = 480
    focal_px: float = 860.0
    distance_m: float = 3.5
    forward_m: float = 0.05
    up_m: float = 0.59

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
        """(3, 3) rotation from the bike frame to camera axes: x right, y down, z into the scene."""
        return np.diag([self.sign, -1.0, -self.sign])

    @property
    def mm_per_px(self) -> float:
        """Millimetres a pixel in the bike's middle plane."""
        return 1000 * self.distance_m / self.focal_px

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
