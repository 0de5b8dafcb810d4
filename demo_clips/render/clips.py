"""The shipped clips."""

from __future__ import annotations

from demo_clips.render.camera import CAMERAS
from demo_clips.render.decoy_clips import DECOY_CLIPS
from demo_clips.render.kit import DARK_KIT
from demo_clips.render.light import DIM
from demo_clips.render.scene import Event, Scene
from demo_clips.render.study_clips import STUDY_CLIPS

HANDS_TO_DROPS = Event("hands to drops", 1.5, rise_s=1.0, hold_s=None, into_drops=1.0)

DRIFTS = (
    Event("torso sinks", 8.6, rise_s=2.5, hold_s=2.5, fall_s=2.5, torso_deg=-7.0),
    Event("hip slides forward", 23.4, rise_s=1.5, hold_s=3.0, fall_s=1.5, hip_forward_mm=20.0),
)

INTERRUPTIONS = (
    Event(
        "out of the saddle",
        6.0,
        rise_s=0.4,
        hold_s=1.2,
        fall_s=0.4,
        hip_forward_mm=100.0,
        hip_up_mm=95.0,
        torso_deg=-8.0,
        foot_pitch_deg=36.0,
    ),
    Event("hand off", 15.0, rise_s=0.4, hold_s=0.7, fall_s=0.4, near_hand_to_mouth=1.0),
    Event("coasting", 21.5, rise_s=0.2, hold_s=1.1, fall_s=0.2, crank_rpm=0.0),
    Event("back-pedalling", 30.0, rise_s=0.25, hold_s=1.0, fall_s=0.25, crank_rpm=-60.0),
)

RIDING_CLIPS = (
    Scene(
        "hoods_reference",
        50.0,
        101,
        ((0, 89), (12, 93), (25, 87.5), (38, 92.5), (50, 89)),
        "hands on the hoods, steady: for making a target",
    ),
    Scene(
        "hoods_steady",
        60.0,
        102,
        ((0, 80), (15, 96), (30, 84), (45, 97), (60, 79)),
        "hands on the hoods, cadence wandering slowly",
    ),
    Scene(
        "drops_reference",
        50.0,
        103,
        ((0, 87), (14, 90), (27, 86), (39, 89.5), (50, 88)),
        "hands in the drops, steady: for making a target",
        hands="drops",
    ),
    Scene(
        "drops_steady",
        16.0,
        104,
        ((0, 89), (8, 86), (16, 90)),
        "hands move from the hoods to the drops, then steady",
        events=(HANDS_TO_DROPS,),
    ),
    Scene(
        "hoods_drift",
        33.6,
        105,
        ((0, 98), (10, 100), (22, 97), (33.6, 99)),
        "the torso sinks and comes back, then the hips slide forward and back",
        events=DRIFTS,
    ),
    Scene(
        "hoods_interruptions",
        34.0,
        106,
        ((0, 94), (12, 97), (23, 94), (34, 96)),
        "rises from the saddle, takes a hand off, coasts, back-pedals",
        events=INTERRUPTIONS,
    ),
    Scene(
        "saddle_high",
        15.0,
        107,
        ((0, 89), (8, 92), (15, 90)),
        "saddle and hips 24 mm up along the seat tube",
        saddle_mm=24.0,
    ),
    Scene(
        "saddle_low",
        15.0,
        108,
        ((0, 91), (8, 88), (15, 90)),
        "saddle and hips 28 mm down along the seat tube",
        saddle_mm=-28.0,
    ),
    Scene(
        "left_side_steady",
        31.0,
        109,
        ((0, 98), (10, 99.5), (21, 97), (31, 98)),
        "seen from the left side",
        camera=CAMERAS["left_side"],
    ),
    Scene(
        "empty_bike",
        4.0,
        110,
        (),
        "the bike without a rider, cranks still",
        has_rider=False,
    ),
    Scene(
        "walks_past",
        10.0,
        111,
        ((0, 85), (5, 86.5), (10, 84)),
        "steady, while a second person crosses behind the rider",
        walker_s=(5.2, 8.1),
    ),
    Scene(
        "dark_kit_dim_room",
        31.0,
        112,
        ((0, 98), (11, 96.5), (20, 99), (31, 98)),
        "dark clothes in dim light",
        kit=DARK_KIT,
        light=DIM,
    ),
)

CLIPS = (*RIDING_CLIPS, *STUDY_CLIPS, *DECOY_CLIPS)
