"""How the rider moves: the same seed gives the same motion, and it varies like a person's."""

from dataclasses import replace
from functools import cache
from itertools import pairwise

import numpy as np
import pytest

from demo_clips.render.body import load_body
from demo_clips.render.clips import CLIPS
from demo_clips.render.motion import Motion, smooth_noise
from demo_clips.render.rider import Fit, Rider
from demo_clips.render.scene import Event

SCENES = {scene.name: scene for scene in CLIPS}


def motion_of(scene):
    return Motion(scene, Rider(load_body(), Fit()))


known_motion = cache(motion_of)


def crank_rpm(motion):
    return np.diff(motion.near_crank_deg) * motion.scene.frames_per_s / 6


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
    motion = known_motion(SCENES[name])
    rpm = crank_rpm(motion)
    calm = np.array([motion.scene.event_at(t) == "" for t in motion.time_s[1:]])
    frames = round(motion.scene.frames_per_s * 2 / 3)
    over_a_stroke = np.convolve(rpm, np.ones(frames) / frames, mode="valid")
    kept = over_a_stroke[np.convolve(calm, np.ones(frames), mode="valid") == frames]
    assert kept.min() > 70
    assert kept.max() < 104


def test_stroke_times_differ_by_one_to_two_percent():
    motion = known_motion(SCENES["hoods_reference"])
    times = np.diff(strokes(motion))
    trend = np.polynomial.Polynomial.fit(np.arange(len(times)), times, 6)(np.arange(len(times)))
    assert 0.007 < np.std(times / trend - 1) < 0.02


def test_the_stroke_mean_of_the_torso_varies_by_some_tenths_of_a_degree():
    motion = known_motion(SCENES["hoods_reference"])
    torso = np.array([motion.posture(f).torso_deg for f in range(len(motion.time_s))])
    tops = strokes(motion)
    means = [torso[(motion.time_s >= a) & (motion.time_s < b)].mean() for a, b in pairwise(tops)]
    assert 0.25 < np.std(means) < 0.6


def test_the_crank_stands_while_coasting_and_turns_back_while_back_pedalling():
    motion = known_motion(SCENES["hoods_interruptions"])
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
    sunk, slid = (round((e.start_s + e.rise_s + 0.5) * scene.frames_per_s) for e in scene.events)
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


def changed_by(name, time_s):
    """What the events of a scene add at a time: torso in degrees and hip (3,) in millimetres."""
    scene = SCENES[name]
    frame = round(time_s * scene.frames_per_s)
    now, without = (known_motion(s).posture(frame) for s in (scene, replace(scene, events=())))
    return now.torso_deg - without.torso_deg, 1000 * (now.hip_m - without.hip_m)


@pytest.mark.parametrize(
    ("time_s", "torso_deg", "hip_mm"),
    [
        (10.0, 0.0, (0.0, 0.0)),
        (22.0, 0.3, (2.5, 0.5)),
        (40.5, 0.3, (2.5, 0.5)),
        (43.0, -0.4, (-1.5, -0.8)),
        (61.5, -0.4, (-1.5, -0.8)),
    ],
)
def test_each_of_the_three_sits_is_in_its_own_place(time_s, torso_deg, hip_mm):
    turned_deg, moved_mm = changed_by("three_sits", time_s)
    assert turned_deg == pytest.approx(torso_deg, abs=1e-9)
    np.testing.assert_allclose(moved_mm[:2], hip_mm, atol=1e-9)


def test_each_of_the_three_sits_lasts_twenty_one_strokes():
    motion = known_motion(SCENES["three_sits"])
    tops = strokes(motion)
    for start_s, end_s in ((0.0, 20.0), (21.5, 41.0), (42.5, 62.0)):
        assert np.sum((tops >= start_s) & (tops <= end_s)) >= 22


def test_a_small_change_is_as_large_as_its_name_says():
    events = SCENES["hoods_small_changes"].events
    assert [event.name for event in events] == [
        "torso sinks 2 deg",
        "hip slides forward 5 mm",
        "torso sinks 3 deg",
        "hip slides forward 10 mm",
        "torso sinks 5 deg",
        "hip slides forward 20 mm",
        "torso creeps 3 deg",
        "hip creeps forward 10 mm",
    ]
    for event in events:
        turned_deg, moved_mm = changed_by(
            "hoods_small_changes", event.start_s + event.rise_s + event.hold_s / 2
        )
        size = float(event.name.split()[-2])
        expected = (-size, 0.0) if event.name.startswith("torso") else (0.0, size)
        assert (turned_deg, moved_mm[0]) == pytest.approx(expected, abs=1e-9)
    for event, following in pairwise(events):
        assert following.start_s - event.end_s == pytest.approx(5.0)


@pytest.mark.parametrize("prefix", ["kit_", "yaw_"])
def test_clips_of_one_comparison_show_one_ride(prefix):
    first, *others = (known_motion(s) for s in CLIPS if s.name.startswith(prefix))
    assert len(others) >= 3
    for other in others:
        np.testing.assert_array_equal(other.near_crank_deg, first.near_crank_deg)
        for frame in (0, 100, 250):
            mine, theirs = first.posture(frame), other.posture(frame)
            assert mine.torso_deg == theirs.torso_deg
            np.testing.assert_array_equal(mine.hip_m, theirs.hip_m)


def test_the_natural_variation_is_as_large_and_slow_at_any_frame_rate():
    scene = replace(SCENES["hoods_reference"], duration_s=30.0)
    spread, lasting = [], []
    for rate in (25, 30, 60):
        noises = [
            smooth_noise(np.random.default_rng(seed), scene.frame_count * rate // 30, 1 / rate, 0.6)
            for seed in range(40)
        ]
        spread.append(np.std(noises))
        half_s = round(0.6 * rate)
        lasting.append(np.mean([np.corrcoef(n[:-half_s], n[half_s:])[0, 1] for n in noises]))
        tops = strokes(motion_of(replace(scene, frames_per_s=rate)))
        assert 60 / np.diff(tops).mean() == pytest.approx(90.3, abs=1.5)
    assert spread == pytest.approx([1.0] * 3, abs=0.05)
    # White noise smoothed by a Gaussian of width w has autocorrelation exp(-t^2 / 4 w^2).
    assert lasting == pytest.approx([np.exp(-0.25)] * 3, abs=0.06)


def test_a_frame_rate_that_leaves_part_of_a_crank_step_is_refused():
    with pytest.raises(ValueError, match="take 25, 30, 50 or 60"):
        replace(SCENES["hoods_steady"], frames_per_s=24)


def test_the_swung_back_arm_has_its_wrist_before_the_hip():
    scene = SCENES["arms_before_hip"]
    motion = known_motion(scene)
    for event in scene.events:
        frame = round((event.start_s + event.rise_s + event.hold_s / 2) * scene.frames_per_s)
        pose = motion.rider.pose(motion.posture(frame))
        wrist, hip = pose.joints_m["wrist.R"], pose.joints_m["upperleg01.R"]
        assert np.linalg.norm((wrist - hip)[:2]) < 0.04
        assert wrist[2] > hip[2] + 0.08
        steady = motion.near_crank_deg[frame - 30 : frame + 31]
        assert np.diff(steady).min() > 15
