"""A camera profile without a camera."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from posewatch.core.bike_setup import BikeSetup, SetupMethod, SetupSpread
from posewatch.core.plane import CameraProfile, JointDepths, Lens, view_from_angles
from posewatch.core.records import Side
from posewatch.store.camera_profile_file import SavedProfile


def saved(side: Side = Side.LEFT, **changes: Any) -> SavedProfile:
    """Numbers with many digits everywhere."""
    view = view_from_angles(side, (100 / 3, 1700 / 3, 10400 / 3), 5 / 3, -2 / 7, 1 / 9)
    lens = Lens(640, 480, 2581 / 3, 2579 / 3, 961 / 3, 719 / 3, (-1 / 7, 1 / 9, 1e-4 / 3, 0.0, 0.1))
    setup = BikeSetup(
        SetupMethod.BOARDS,
        view,
        (1790 / 3, 216 / 3),
        (-1213 / 3, 217 / 3),
        12.21 / 3,
        SetupSpread(0.01 / 3, 1 / 3, 2 / 3, 0.1, 25 / 3),
        0.2 / 3,
        None,
    )
    profile = CameraProfile(lens, view, JointDepths(hip=280 / 3))
    created = "2025-03-01T10:11:12+01:00"
    return replace(
        SavedProfile("side 1", "road-1", 0, created, "zoom taped", profile, setup), **changes
    )
