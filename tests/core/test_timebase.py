"""Time: whole nanoseconds inside, seconds at the borders."""

from __future__ import annotations

import pytest

from posewatch.core.timebase import clock_text, to_ns, to_s


def test_seconds_become_whole_nanoseconds_and_come_back() -> None:
    assert to_ns(1 / 30) == 33_333_333
    assert isinstance(to_ns(0.1), int)
    assert to_s(to_ns(7200.125)) == 7200.125


@pytest.mark.parametrize(
    ("t_ns", "text"),
    [
        (0, "0:00.0"),
        (64_200_000_000, "1:04.2"),
        (59_960_000_000, "1:00.0"),
        (3_600_000_000_000, "60:00.0"),
    ],
)
def test_clock_text_rounds_to_tenths_and_carries(t_ns: int, text: str) -> None:
    assert clock_text(t_ns) == text


def test_a_clock_50_ppm_fast_is_a_tenth_of_a_second_off_after_half_an_hour() -> None:
    # Project arithmetic: 50 ppm over 30 min = 90 ms = 48.6 degrees of crank at 90 rpm. The inner
    # time keeps it exactly: no float seconds are added up.
    off_ns = to_ns(1800.0 * (1 + 50e-6)) - to_ns(1800.0)
    assert off_ns == 90_000_000
    assert to_s(off_ns) * 90.0 * 6.0 == pytest.approx(48.6, abs=1e-9)
