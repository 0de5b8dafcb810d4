"""Calibrated cameras beside the linkage rider's bike, and the chains that they belong to."""

from __future__ import annotations

import math
from dataclasses import replace

from linkage_rider import CHAIN, HEIGHT_PX, WIDTH_PX

from posewatch.core.measuring_chain import MeasuringChain, ViewedFrom
from posewatch.core.plane import CameraProfile, Lens, view_from_angles
from posewatch.core.records import Side

#: At DISTANCE_MM as fine as the flat picture: 4.07 mm a pixel.
PLAIN = Lens(WIDTH_PX, HEIGHT_PX, 860.0, 860.0, 320.0, 240.0)
BENT = replace(PLAIN, distortion=(-0.25, 0.08, 0.001, -0.001, 0.0))
DISTANCE_MM = 3500.0


def camera(
    side: Side = Side.RIGHT,
    yaw_deg: float = 0.0,
    pitch_deg: float = 0.0,
    roll_deg: float = 0.0,
    lens: Lens = PLAIN,
    distance_mm: float = DISTANCE_MM,
) -> CameraProfile:
    """A camera that looks at the middle of a rider, however it is turned."""
    x = 50.0 - distance_mm * math.tan(math.radians(yaw_deg))
    y = 590.0 - distance_mm * math.tan(math.radians(pitch_deg))
    view = view_from_angles(side, (x, y, distance_mm), yaw_deg, pitch_deg, roll_deg)
    return CameraProfile(lens, view)


def chain_of(profile: CameraProfile) -> MeasuringChain:
    """The linkage rider's chain through a calibrated camera."""
    view = profile.view
    seen_from = ViewedFrom(
        profile.lens.fingerprint(), view.yaw_deg, view.pitch_deg, view.distance_mm
    )
    return replace(CHAIN, camera_profile=profile.fingerprint(), view=seen_from)
