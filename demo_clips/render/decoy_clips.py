"""Clips in which nobody may be counted, though somebody or part of somebody is seen."""

from __future__ import annotations

from demo_clips.render.camera import CAMERAS
from demo_clips.render.scene import Scene

DECOY_S = 8.0
STEADY_RPM = ((0.0, 94.0), (4.0, 95.5), (8.0, 94.0))

DECOY_CLIPS = (
    Scene(
        "hidden_legs",
        DECOY_S,
        141,
        STEADY_RPM,
        "a board stands before the bike from the saddle down and hides both legs",
        has_screen=True,
    ),
    Scene(
        "beside_bike",
        DECOY_S,
        142,
        (),
        "a second person stands behind the parked bike, hands on saddle and bar",
        has_rider=False,
        has_bystander=True,
    ),
    Scene(
        "half_body_above",
        DECOY_S,
        143,
        STEADY_RPM,
        "the camera is too low: head and shoulders are above the picture",
        camera=CAMERAS["right_side_low"],
    ),
    Scene(
        "half_body_below",
        DECOY_S,
        144,
        STEADY_RPM,
        "the camera is too high: the legs are below the picture",
        camera=CAMERAS["right_side_high"],
    ),
    Scene(
        "poster",
        DECOY_S,
        145,
        (),
        "the parked bike before a poster of a cyclist as large as life",
        has_rider=False,
        has_poster=True,
    ),
    Scene(
        "three_quarter",
        DECOY_S,
        146,
        STEADY_RPM,
        "the camera 45 degrees from square, the whole rider in the picture",
        camera=CAMERAS["right_side_yaw_45"],
    ),
)
