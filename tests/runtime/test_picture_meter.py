"""Measures of live pictures."""

from __future__ import annotations

import math

import numpy as np
import pytest

from posewatch.core.sources import Picture
from posewatch.runtime.picture_meter import PictureMeter, usual_rate_hz

STEP_NS = 40_000_000


def grey(level: int) -> Picture:
    return np.full((480, 640, 3), level, np.uint8)


def test_the_usual_rate_is_that_of_the_median_step() -> None:
    even = [7 + STEP_NS * number for number in range(50)]
    assert usual_rate_hz(even) == pytest.approx(25.0)
    late = [*even[:40], *(t + 300_000_000 for t in even[40:])]
    assert usual_rate_hz(late) == pytest.approx(25.0)
    assert usual_rate_hz([0, 2_000_000_000]) == pytest.approx(0.5)
    assert usual_rate_hz([0, 900_000_000, 1_000_000_000]) == pytest.approx(10.0)


def test_late_stamps_on_a_busy_machine_change_the_rate_little() -> None:
    """Every other picture is stamped 12 ms late; single steps would say 19 or 36 Hz."""
    times = [STEP_NS * number + 12_000_000 * (number % 2) for number in range(46)]
    assert usual_rate_hz(times) == pytest.approx(25.0, rel=0.07)
    rng = np.random.default_rng(5)
    times = [STEP_NS * number + int(rng.exponential(8_000_000)) for number in range(46)]
    assert usual_rate_hz(times) == pytest.approx(25.0, rel=0.05)


def test_a_burst_at_the_beginning_is_no_rate() -> None:
    """A stream sends at once what it kept while it was opened: here three quarters of all."""
    burst = [1_000_000 * number for number in range(60)]
    times = burst + [burst[-1] + STEP_NS * number for number in range(1, 21)]
    assert usual_rate_hz(times) == pytest.approx(25.0)


def test_the_rate_is_over_the_last_two_seconds() -> None:
    meter = PictureMeter()
    assert math.isnan(meter.rate_hz)
    t_ns = 0
    for number in range(12):
        meter.take(t_ns := t_ns + STEP_NS, grey(number))
    assert math.isnan(meter.rate_hz), "too short to say"
    for number in range(100):
        meter.take(t_ns := t_ns + STEP_NS, grey(number))
    assert meter.rate_hz == pytest.approx(25.0)
    for number in range(25):
        meter.take(t_ns := t_ns + 2 * STEP_NS, grey(number))
    assert meter.rate_hz == pytest.approx(12.5)
    meter.begin_anew()
    assert math.isnan(meter.rate_hz)
    for number in range(60):
        meter.take(t_ns := t_ns + STEP_NS, grey(number))
    assert meter.rate_hz == pytest.approx(25.0), "the gap before is none of its pace"


def test_alike_pictures_are_told_since_the_first_of_them() -> None:
    meter = PictureMeter()
    seen = []
    for t_ns, level in enumerate([1, 2, 2, 2, 3, 3, 4]):
        meter.take(t_ns, grey(level))
        seen.append(meter.same_since_ns)
    assert seen == [None, None, 1, 1, None, 4, None]


def test_a_gap_does_not_end_what_is_alike() -> None:
    meter = PictureMeter()
    for t_ns in range(3):
        meter.take(t_ns, grey(1))
    meter.begin_anew()
    meter.take(100, grey(1))
    assert meter.same_since_ns == 0


@pytest.mark.parametrize("shape", [(480, 640), (1080, 1920), (30, 40)])
def test_something_small_that_moves_is_a_change(shape: tuple[int, int]) -> None:
    """A foot is a thirtieth of the picture's height or more."""
    rng = np.random.default_rng(3)
    foot = max(2, shape[0] // 30)
    for _ in range(20):
        top, left = rng.integers(0, [shape[0] - foot, shape[1] - foot])
        meter = PictureMeter()
        still = np.full((*shape, 3), 90, np.uint8)
        meter.take(0, still)
        moved = still.copy()
        moved[top : top + foot, left : left + foot] = 91
        meter.take(1, moved)
        assert meter.same_since_ns is None


def test_brightness_is_a_share_of_white() -> None:
    meter = PictureMeter()
    half = grey(0)
    half[:240] = 255
    for rgb, brightness in ((grey(0), 0.0), (grey(255), 1.0), (half, 0.5)):
        meter.take(0, rgb)
        assert meter.brightness == pytest.approx(brightness, abs=0.01)
