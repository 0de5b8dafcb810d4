"""How the rider moves: the same seed gives the same motion, and it varies like a person's."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from demo_clips.render.body import load_body
from demo_clips.render.clips import CLIPS
from demo_clips.render.motion import Motion, smooth_noise
from demo_clips.render.rider import Fit, Rider
from demo_clips.render.scene import FRAMES_PER_S, Event

SCENES = {scene.name: scene for scene in CLIPS}


def motion_of(scene):
    return Motion(scene, Rider(load_body(), Fit()))


def crank_rpm(motion):
    return np.diff(motion.near_crank_deg) * FRAMES_PER_S / 6


def strokes(motion):
    """(strokes + 1,) interpolated times at which the camera-side crank passes the top."""
    turns = motion.near_crank_deg / 360
    tops = np.arange(np.ceil(turns[0]), np.floor(turns[-1]) + 1)
    return np.interp(tops, turns, motion.time_s)


def test_one_seed_one_motion_and_another_seed_another():
    scene = replace(SCENES["hoods_drift"], duration_s=5.0)
    first, again = motion_of(scene), motion_of(scene)
    other = motion_of(replace(scene, seed=scene.seed + 1))
    np.testing.assert_array_equal(first.near_crank_deg, again.near_crank_deg)
    assert first.posture(40).torso_deg == again.posture(40).torso_deg
    assert not np.allclose(first.near_crank_deg, other.near_crank_deg)
    assert first.posture(40).torso_deg != other.posture(40).torso_deg


def test_smooth_noise_has_the_asked_spread():
    noise = smooth_noise(np.random.default_rng(5), 60_000, 1 / 30, 0.5)
    assert noise.std() == pytest.approx(1.0, abs=0.05)


@pytest.mark.parametrize("name", [s.name for s in CLIPS if s.has_rider])
def test_cadence_stays_between_70_and_104_rpm_outside_events(name):
    motion = motion_of(SCENES[name])
    rpm = crank_rpm(motion)
    calm = np.array([motion.scene.event_at(t) == "" for t in motion.time_s[1:]])
    over_a_stroke = np.convolve(rpm, np.ones(20) / 20, mode="valid")
    kept = over_a_stroke[np.convolve(calm, np.ones(20), mode="valid") == 20]
    assert kept.min() > 70
    assert kept.max() < 104


def test_stroke_times_differ_by_one_to_two_percent():
    motion = motion_of(SCENES["hoods_reference"])
    times = np.diff(strokes(motion))
    trend = np.polynomial.Polynomial.fit(np.arange(len(times)), times, 6)(np.arange(len(times)))
    assert 0.007 < np.std(times / trend - 1) < 0.02


def test_the_stroke_mean_of_the_torso_varies_by_some_tenths_of_a_degree():
    motion = motion_of(SCENES["hoods_reference"])
    torso = np.array([motion.posture(f).torso_deg for f in range(len(motion.time_s))])
    tops = strokes(motion)
    means = [torso[(motion.time_s >= a) & (motion.time_s < b)].mean() for a, b in pairwise(tops)]
    assert 0.25 < np.std(means) < 0.6


def test_the_crank_stands_while_coasting_and_turns_back_while_back_pedalling():
    motion = motion_of(SCENES["hoods_interruptions"])
    rpm, time_s = crank_rpm(motion), motion.time_s[1:]
    coasting = (time_s > 21.8) & (time_s < 22.7)
    np.testing.assert_allclose(rpm[coasting], 0.0, atol=1e-9)
    backwards = (time_s > 30.35) & (time_s < 31.2)
    assert rpm[backwards].mean() == pytest.approx(-60.0, abs=2.0)
    assert rpm[time_s > 31.6].min() > 80


def test_an_event_rises_holds_and_falls_smoothly():
    event = Event("sinks", 6.0, rise_s=3.0, hold_s=3.0, fall_s=3.0, torso_deg=-7.0)
    assert event.end_s == 15.0
    assert [event.level(t) for t in (5.9, 6.0, 7.5, 9.0, 12.0, 13.5, 15.0, 20.0)] == pytest.approx(
        [0, 0, 0.5, 1, 1, 0.5, 0, 0]
    )
    staying = replace(event, hold_s=None)
    assert staying.end_s == 9.0
    assert staying.level(1000.0) == 1.0


def test_the_hip_slide_keeps_the_torso_angle_and_the_sinking_torso_keeps_the_hip():
    scene = SCENES["hoods_drift"]
    moved, still = motion_of(scene), motion_of(replace(scene, events=()))
    sunk, slid = (round((e.start_s + e.rise_s + 0.5) * FRAMES_PER_S) for e in scene.events)
    for frame, torso_deg, forward_m in ((sunk, -7.0, 0.0), (slid, 0.0, 0.020)):
        now, without = moved.posture(frame), still.posture(frame)
        assert now.torso_deg - without.torso_deg == pytest.approx(torso_deg, abs=1e-9)
        np.testing.assert_allclose(now.hip_m - without.hip_m, [forward_m, 0, 0], atol=1e-12)


def test_a_higher_saddle_moves_the_hips_along_the_seat_tube_and_leaves_the_hands():
    high, low = SCENES["saddle_high"], SCENES["saddle_low"]
    same = replace(high, seed=1), replace(low, seed=1, cadence_rpm=high.cadence_rpm)
    above, below = (motion_of(scene).posture(0) for scene in same)
    risen_m = above.hip_m - below.hip_m
    assert np.linalg.norm(risen_m) == pytest.approx(
        (high.saddle_mm - low.saddle_mm) / 1000, abs=1e-9
    )
    assert risen_m[1] > 0 > risen_m[0]
    np.testing.assert_array_equal(above.hands["R"].wrist_m, below.hands["R"].wrist_m)
