"""Wall time of session times: interpolated between anchors, never smeared over a step."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone

import numpy as np
import pytest

from posewatch.core.records import NS_PER_S
from posewatch.core.timebase import to_ns
from posewatch.core.wall_time import Jump, WallClock, utc_text

ZERO = 1_740_820_272_000_000_000


def test_a_session_whose_clock_was_never_read_has_no_wall_time() -> None:
    assert WallClock(()).at(5) is None
    assert WallClock(()).jumps == ()


def test_before_the_first_and_after_the_last_anchor_time_runs_on() -> None:
    clock = WallClock(((1000, ZERO),))
    assert [clock.at(t_ns) for t_ns in (0, 1000, 4000)] == [ZERO - 1000, ZERO, ZERO + 3000]


def test_a_clock_that_drifts_is_interpolated() -> None:
    # 50 ppm, as quartz clocks may differ; anchors every 10 s. numpy.interp is the reference.
    t_ns = np.arange(0, 100, 10) * NS_PER_S
    wall_ns = t_ns + t_ns // 20_000
    clock = WallClock(tuple(zip(t_ns.tolist(), (ZERO + wall_ns).tolist(), strict=True)))
    assert clock.jumps == ()
    for moment_ns in np.linspace(0, 90e9, 37).astype(int).tolist():
        found_ns = clock.at(moment_ns)
        assert found_ns is not None
        assert found_ns - ZERO == pytest.approx(np.interp(moment_ns, t_ns, wall_ns), abs=2)
    assert clock.at(to_ns(100.0)) == ZERO + to_ns(100.0) + 4_500_000


@pytest.mark.parametrize("step_s", [3600.0, -3600.0, 0.6])
def test_a_step_is_never_smeared_and_shows_at_the_later_anchor(step_s: float) -> None:
    step_ns = to_ns(step_s)
    ten_ns = to_ns(10.0)
    clock = WallClock(
        ((0, ZERO), (ten_ns, ZERO + ten_ns), (2 * ten_ns, ZERO + 2 * ten_ns + step_ns))
    )
    assert clock.jumps == (Jump(ten_ns, 2 * ten_ns, step_ns),)
    assert clock.at(to_ns(15.0)) == ZERO + to_ns(15.0)
    assert clock.at(2 * ten_ns - 1) == ZERO + 2 * ten_ns - 1
    assert clock.at(2 * ten_ns) == ZERO + 2 * ten_ns + step_ns
    assert clock.at(to_ns(25.0)) == ZERO + to_ns(25.0) + step_ns


def test_what_is_no_step_is_drift() -> None:
    clock = WallClock(((0, ZERO), (to_ns(10.0), ZERO + to_ns(10.4))))
    assert clock.jumps == ()
    assert clock.at(to_ns(5.0)) == ZERO + to_ns(5.2)


def test_utc_text_is_iso_8601_to_the_microsecond() -> None:
    assert utc_text(ZERO) == "2025-03-01T09:11:12.000000Z"
    assert utc_text(ZERO + 1_499) == "2025-03-01T09:11:12.000001Z"
    assert utc_text(ZERO + 999_999_600) == "2025-03-01T09:11:13.000000Z"
    there = datetime.fromisoformat(utc_text(ZERO + 123_456_000))
    assert there == datetime(2025, 3, 1, 10, 11, 12, 123_456, tzinfo=timezone(timedelta(hours=1)))
    assert there.tzinfo == UTC
