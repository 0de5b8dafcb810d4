"""Steadiness over half a minute. Limit: 3 % (a judgement from published test-retest CVs)."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest

from posewatch.core import steadiness
from posewatch.core.records import Effort
from posewatch.core.steadiness import Measure, SmoothnessFlag, SteadinessState
from posewatch.core.timebase import to_ns


def ride(
    seconds: float,
    period_s: Callable[[int], float] = lambda k: 2 / 3,
    power_w: Callable[[float], float] = lambda t_s: 200.0,
    break_s: float = math.inf,
) -> list[SmoothnessFlag]:
    """Ride; strokes are judged a second late; at break_s the crank's pace is lost for a moment."""
    events: list[tuple[float, tuple[float, float] | None]] = []
    start_s, k = 0.0, 0
    while start_s < seconds:
        end_s = start_s + period_s(k)
        events.append((end_s + 1.0, (start_s, end_s)))
        start_s, k = end_s + (0.1 if start_s < break_s <= end_s else 0.0), k + 1
    events += [(n / 4, None) for n in range(round(seconds * 4))]
    state, found = SteadinessState(), list[SmoothnessFlag]()
    for t_s, stroke in sorted(events, key=lambda pair: pair[0]):
        if stroke is None:
            state = steadiness.take_effort(state, Effort(to_ns(t_s), power_w(t_s), 90.0))
        else:
            state, flags = steadiness.take_stroke(state, to_ns(stroke[0]), to_ns(stroke[1]))
            found += flags
    return found


def test_the_cv_of_ten_powers() -> None:
    # Project arithmetic: mean 200.0, SD 2.58199, CV 1.29099 %.
    powers = [201.0, 198.0, 203.0, 199.0, 202.0, 197.0, 200.0, 204.0, 196.0, 200.0]
    assert steadiness.cv_pct(powers) == pytest.approx(1.29099, abs=1e-5)


@pytest.mark.parametrize("values", [[], [200.0], [1.0, -1.0], [-3.0, -5.0]])
def test_a_cv_needs_two_values_about_a_mean_above_zero(values: list[float]) -> None:
    assert math.isnan(steadiness.cv_pct(values))


def test_even_riding_is_not_flagged() -> None:
    assert ride(120.0) == []


@pytest.mark.parametrize(("cv", "flagged"), [(2.5, False), (3.5, True)])
def test_uneven_strokes_are_flagged(cv: float, flagged: bool) -> None:
    def period_s(k: int) -> float:
        return 2 / 3 * (1.0 + (cv if k % 2 else -cv) / 100.0)

    found = ride(65.0, period_s)
    assert {flag.measure for flag in found} == ({Measure.STROKE_PERIOD} if flagged else set())
    if flagged:
        # Of two alternating values the sample SD is a little over half their distance.
        assert found[0].cv_pct == pytest.approx(cv, rel=0.02)
        # At the end of the first half minute, and half a minute later.
        assert [flag.t_ns / 1e9 for flag in found] == pytest.approx([30.4, 60.8], abs=0.8)


def test_the_camera_s_own_noise_is_not_flagged() -> None:
    # A top is seen with an SD of 2.7 degrees at worst: 5 ms at 90 rpm, 7 ms or 1.1 % in a period.
    random = np.random.default_rng(4)
    tops_s = np.arange(300) * 2 / 3 + random.normal(0.0, 2.7 / 540.0, 300)
    assert ride(190.0, lambda k: float(tops_s[k + 1] - tops_s[k])) == []


@pytest.mark.parametrize(("cv", "flagged"), [(2.5, False), (3.5, True)])
def test_wandering_power_is_flagged(cv: float, flagged: bool) -> None:
    # A sine of that CV, of 15 s: means over 3 s take 6 % off it, the sample SD adds 5 %.
    def power_w(t_s: float) -> float:
        return 200.0 * (1.0 + math.sqrt(2) * cv / 100.0 * math.sin(2 * math.pi * t_s / 15.0))

    found = ride(45.0, power_w=power_w)
    assert [flag.measure for flag in found] == ([Measure.POWER] if flagged else [])
    if flagged:
        assert found[0].cv_pct == pytest.approx(cv, rel=0.05)


def test_what_varies_within_three_seconds_is_not_flagged() -> None:
    # 20 % up and down each half second, as the two legs do it.
    assert ride(90.0, power_w=lambda t_s: 240.0 if t_s % 1.0 < 0.5 else 160.0) == []


def test_half_a_minute_without_a_break_is_needed() -> None:
    def uneven(k: int) -> float:
        return 0.6 if k % 2 else 0.7

    assert ride(29.0, uneven) == []
    assert ride(45.0, uneven, break_s=20.0) == []
    assert len(ride(55.0, uneven, break_s=20.0)) == 1


def test_without_power_for_a_while_the_power_is_not_known() -> None:
    def power_w(t_s: float) -> float:
        return math.nan if 12.0 <= t_s < 18.5 else 200.0 if t_s < 14.0 else 100.0

    assert [f.measure for f in ride(40.0, power_w=power_w)] == []


def test_memory_is_bounded() -> None:
    state = SteadinessState()
    for k in range(4000):
        state = steadiness.take_effort(state, Effort(to_ns(k / 4), 200.0, 90.0))
        state, _ = steadiness.take_stroke(state, to_ns(k / 4 - 0.25), to_ns(k / 4))
    assert len(state.powers) <= 33 * 4
    assert len(state.strokes) <= 31 * 4
