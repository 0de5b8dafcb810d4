"""Figures of the study clips, on series whose answer is known."""

from __future__ import annotations

import numpy as np
import pytest

from posewatch.bench import study_scores
from posewatch.bench.scores import Series
from posewatch.bench.study_scores import SITTING, TORSO, Event

RPM, RATE_HZ = 90.0, 30.0
NAMES = ["", "torso sinks 3 deg", "", "hip slides forward 10 mm"]


def ride(seconds: float, column: int, step: float, begin_s: float, end_s: float) -> Series:
    """Even pedalling; one column is off by a step for a while, with a little seeded noise."""
    t_s = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    values = np.random.default_rng(3).normal(0.0, 0.05, (len(t_s), 7))
    values[:, column] += step * ((t_s >= begin_s) & (t_s < end_s))
    return Series((t_s * 1e9).astype(np.int64), 2 * np.pi * RPM / 60 * t_s, values)


def event(column: int, size: float, begin_s: float, end_s: float) -> Event:
    return Event("one", column, size, int(begin_s * 1e9), int(end_s * 1e9))


def test_events_say_what_moves_by_how_much_and_when() -> None:
    names = tuple(name for name in NAMES for _ in range(30))
    t_ns = (np.arange(len(names)) * 1e9 / 30).astype(np.int64)
    found = study_scores.events(t_ns, names)
    assert [(e.column, e.size) for e in found] == [(TORSO, 3.0), (SITTING, 10.0)]
    assert (found[0].begin_ns, found[0].end_ns) == (int(1e9), int(2e9))
    assert study_scores.events(t_ns, ("hand off",) * len(names)) == []


def test_a_step_is_detected_at_the_second_whole_stroke_of_it() -> None:
    # Strokes end every 2/3 s; the change begins with one.
    found = study_scores.detect(ride(20.0, TORSO, -3.0, 10.0, 16.0), event(TORSO, 3.0, 10.0, 16.0))
    assert found.after_strokes == 2


def test_half_a_change_is_missed_and_nothing_is_found_where_nothing_changed() -> None:
    series = ride(20.0, TORSO, -1.4, 10.0, 16.0)
    one = event(TORSO, 3.0, 10.0, 16.0)
    assert study_scores.detect(series, one).after_strokes is None
    assert study_scores.false_detections(series, [one], TORSO, 3.0) == 0
    assert study_scores.false_detections(series, [], TORSO, 2.0) > 0


def test_changes_are_read_in_the_middle_of_the_event() -> None:
    series = ride(30.0, SITTING, 5.0, 10.0, 20.0)
    (change,) = study_scores.changes(series, [event(SITTING, 5.0, 10.0, 20.0)], SITTING)
    assert change == pytest.approx(5.0, abs=0.1)


def test_the_remainder_leaves_out_what_is_locked_to_the_crank() -> None:
    angle = np.linspace(0.0, 40 * np.pi, 3000)
    noise = np.random.default_rng(1).normal(0.0, 1.5, len(angle))
    locked = 5.0 * np.cos(angle) + 2.0 * np.sin(4 * angle) - 3.0
    assert study_scores.remainder_sd(locked + noise, angle) == pytest.approx(1.5, rel=0.03)
    noise[::7] = np.nan
    assert study_scores.remainder_sd(locked + noise, angle) == pytest.approx(1.5, rel=0.05)
