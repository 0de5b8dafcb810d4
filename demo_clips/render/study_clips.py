"""Clips that put the measuring itself to the test: kits, dots, sits, small changes, cameras."""

from __future__ import annotations

from collections.abc import Iterator

from demo_clips.render.camera import CAMERAS
from demo_clips.render.kit import (
    LIGHT_SHORTS,
    LONG_TIGHTS,
    LOOSE_SHORTS,
    OTHER_JERSEY,
    PATTERNED_SHORTS,
    RIDER_KIT,
)
from demo_clips.render.scene import Event, Scene

KITS = {
    "reference": (RIDER_KIT, "the usual kit"),
    "light_shorts": (LIGHT_SHORTS, "light shorts"),
    "patterned_shorts": (PATTERNED_SHORTS, "patterned shorts, a phone in the thigh pocket"),
    "long_tights": (LONG_TIGHTS, "tights down to the ankles"),
    "loose_shorts": (LOOSE_SHORTS, "loose shorts that hang below the thigh"),
    "other_jersey": (OTHER_JERSEY, "a loose jersey of another colour, its tail over the hip"),
}
KIT_CLIPS = tuple(
    Scene(
        f"kit_{name}",
        14.0,
        120,
        ((0, 95), (7, 96), (14, 94.5)),
        f"sticker dots and {about}; the same ride in every kit",
        kit=kit,
        has_dots=True,
    )
    for name, (kit, about) in KITS.items()
)

DOT_CLIPS = (
    Scene(
        "dots_reference",
        28.0,
        121,
        ((0, 94), (9, 96.5), (18, 93.5), (28, 96)),
        "sticker dots, steady: for making a target",
        has_dots=True,
    ),
    Scene(
        "dots_steady",
        20.0,
        122,
        ((0, 96), (7, 93.5), (14, 96.5), (20, 94)),
        "sticker dots, cadence wandering slowly",
        has_dots=True,
    ),
)


def _rise_from_saddle(start_s: float) -> Event:
    return Event(
        "out of the saddle",
        start_s,
        rise_s=0.4,
        hold_s=0.7,
        fall_s=0.4,
        hip_forward_mm=100.0,
        hip_up_mm=95.0,
        torso_deg=-8.0,
        foot_pitch_deg=36.0,
    )


# The rider shifts while out of the saddle, so only the rising is an event of the truth file.
SITS = (
    _rise_from_saddle(20.0),
    Event(
        "",
        20.5,
        rise_s=0.5,
        hold_s=20.5,
        fall_s=0.5,
        hip_forward_mm=2.5,
        hip_up_mm=0.5,
        torso_deg=0.3,
    ),
    _rise_from_saddle(41.0),
    Event("", 41.5, rise_s=0.5, hold_s=None, hip_forward_mm=-1.5, hip_up_mm=-0.8, torso_deg=-0.4),
)

STEADY_S = 5.0  # between two changes
STEP_S = (0.5, 6.0, 0.5)  # to come, to stay, to go
CREEP_S = (20.0, 1.0, 1.0)


def _torso_down(size_deg: float, start_s: float, times_s: tuple[float, float, float]) -> Event:
    verb = "creeps" if times_s == CREEP_S else "sinks"
    return Event(f"torso {verb} {size_deg:g} deg", start_s, *times_s, torso_deg=-size_deg)


def _hip_forward(size_mm: float, start_s: float, times_s: tuple[float, float, float]) -> Event:
    verb = "creeps" if times_s == CREEP_S else "slides"
    name = f"hip {verb} forward {size_mm:g} mm"
    return Event(name, start_s, *times_s, hip_forward_mm=size_mm)


def _small_changes() -> Iterator[Event]:
    """Steps of torso and hips by turns, growing, then one slow creep of each."""
    start_s = 8.0
    for make, size, times_s in (
        (_torso_down, 2.0, STEP_S),
        (_hip_forward, 5.0, STEP_S),
        (_torso_down, 3.0, STEP_S),
        (_hip_forward, 10.0, STEP_S),
        (_torso_down, 5.0, STEP_S),
        (_hip_forward, 20.0, STEP_S),
        (_torso_down, 3.0, CREEP_S),
        (_hip_forward, 10.0, CREEP_S),
    ):
        yield make(size, start_s, times_s)
        start_s += sum(times_s) + STEADY_S


CHANGE_CLIPS = (
    Scene(
        "three_sits",
        62.0,
        123,
        ((0, 95), (15, 96), (31, 94.5), (47, 95.5), (62, 95)),
        "rises from the saddle twice and sits down again in a slightly other place",
        events=SITS,
    ),
    Scene(
        "hoods_small_changes",
        133.0,
        124,
        ((0, 97), (30, 98), (65, 96.5), (100, 98), (133, 97)),
        "small changes of torso and hips, as steps and as slow creeps",
        events=tuple(_small_changes()),
    ),
)

CAMERA_CLIPS = (
    *(
        Scene(
            f"yaw_{yaw_deg}",
            10.0,
            125,
            ((0, 95), (5, 96.5), (10, 95)),
            f"the camera {yaw_deg} degrees from square; the same ride at every yaw",
            camera=CAMERAS[camera],
        )
        for yaw_deg, camera in (
            (0, "right_side"),
            (5, "right_side_yaw_5"),
            (10, "right_side_yaw_10"),
            (15, "right_side_yaw_15"),
        )
    ),
    *(
        Scene(
            f"camera_{frames_per_s}_fps",
            31.0,
            seed,
            ((0, 98), (10, 99), (21, 97), (31, 98)),
            f"{frames_per_s} frames a second",
            frames_per_s=frames_per_s,
        )
        for frames_per_s, seed in ((25, 126), (60, 127))
    ),
)

ARM_CLIPS = (
    Scene(
        "arms_before_hip",
        16.0,
        128,
        ((0, 95), (8, 96.5), (16, 95)),
        "the near arm swings back, its hand rests on the hip; with sticker dots",
        has_dots=True,
        events=tuple(
            Event(
                "arm before hip", start_s, rise_s=0.5, hold_s=1.2, fall_s=0.5, near_hand_to_hip=1.0
            )
            for start_s in (4.0, 10.0)
        ),
    ),
)

STUDY_CLIPS = (*KIT_CLIPS, *DOT_CLIPS, *CHANGE_CLIPS, *CAMERA_CLIPS, *ARM_CLIPS)
