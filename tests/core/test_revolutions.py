"""Cadence and torque power from counters that wrap.

Counters of real packets are from public bug reports, the devices' own; expected rpm is 60 * 1024 *
revolutions / ticks. Layouts and units: Bluetooth SIG, GATT Specification Supplement.
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from posewatch.core import revolutions
from posewatch.core.revolutions import Rotation
from posewatch.core.sensor_records import Turns
from posewatch.core.timebase import to_ns

FASTEST = 250.0
QUICK = settings(max_examples=60, derandomize=True, deadline=None)


def crank(count: int, ticks: int) -> Turns:
    return Turns(count, ticks, 1024, 16)


def after(
    *events: tuple[float, int, int], torques: tuple[int, ...] = ()
) -> tuple[Rotation, list[bool]]:
    """Return the rotation after packets of (arrival s, count, ticks), and which were refused."""
    rotation, refused = Rotation(), []
    for n, (t_s, count, ticks) in enumerate(events):
        torque = torques[n] if torques else None
        rotation, bad = revolutions.follow(
            rotation, to_ns(t_s), crank(count, ticks), FASTEST, torque
        )
        refused.append(bad)
    return rotation, refused


@pytest.mark.parametrize(
    ("first", "second", "rpm"),
    [
        ((28170, 64727), (28171, 373), 51.98),  # the time counter wraps
        ((1, 2816), (2, 4792), 31.093),
        ((2, 4792), (3, 6062), 48.378),
        ((3, 6062), (5, 8241), 56.393),
        ((64, 19623), (65, 20672), 58.57),
        ((100, 4096), (102, 5461), 90.022),
        ((65535, 64900), (1, 729), 90.022),  # both wrap
    ],
)
def test_cadence_of_real_pairs(first: tuple[int, int], second: tuple[int, int], rpm: float) -> None:
    rotation, refused = after((0.0, *first), (1.2, *second))
    assert rotation.rpm == pytest.approx(rpm, abs=0.005)
    assert refused == [False, False]


def test_wheel_times_in_two_units_give_the_same_pace() -> None:
    # One trainer at one moment: 2260 ticks of 1/2048 s (2A63), 1130 of 1/1024 s (2A5B).
    found = []
    for ticks_per_s, (first, second) in {2048: (7599, 9859), 1024: (3693, 4823)}.items():
        rotation = Rotation()
        for t_s, count, ticks in ((0.0, 89762, first), (1.1, 89764, second)):
            turns = Turns(count, ticks, ticks_per_s, 32)
            rotation, _ = revolutions.follow(rotation, to_ns(t_s), turns, 2000.0)
        found.append(rotation.rpm)
    assert found == pytest.approx([2 / 1.1035 * 60.0] * 2, abs=0.01)


def test_a_wheel_count_of_32_bits_wraps() -> None:
    rotation = Rotation()
    for t_s, count, ticks in ((0.0, (1 << 32) - 1, 0), (1.0, 1, 1024)):
        turns = Turns(count, ticks, 1024, 32)
        rotation, refused = revolutions.follow(rotation, to_ns(t_s), turns, 2000.0)
        assert not refused
    assert rotation.rpm == pytest.approx(120.0)


# --- standing ------------------------------------------------------------------------------------


def test_without_a_new_event_the_cadence_holds_for_two_seconds_and_is_then_zero() -> None:
    rotation, _ = after((0.0, 10, 0), (1.0, 11, 700))
    held_rpm = 60.0 * 1024 / 700
    for t_s in (1.25, 2.0, 3.0):
        rotation, _ = revolutions.follow(rotation, to_ns(t_s), crank(11, 700), FASTEST)
        assert rotation.rpm == pytest.approx(held_rpm)
    rotation, _ = revolutions.follow(rotation, to_ns(3.01), crank(11, 700), FASTEST)
    assert rotation.rpm == 0.0


def test_a_slow_crank_is_held_for_two_of_its_periods() -> None:
    # 2 s a revolution: standing only after 4 s.
    rotation, _ = after((0.0, 10, 0), (2.0, 11, 2048))
    assert revolutions.at(rotation, to_ns(5.9)).rpm == pytest.approx(30.0)
    assert revolutions.at(rotation, to_ns(6.1)).rpm == 0.0


def test_it_is_elapsed_time_that_counts_and_not_messages() -> None:
    pair = ((0.0, 10, 0), (1.0, 11, 700))
    often, _ = after(*pair, *((1.0 + k / 100, 11, 700) for k in range(1, 100)))
    assert often.rpm > 0.0
    assert revolutions.at(after(*pair)[0], to_ns(3.1)).rpm == 0.0


def test_a_crank_that_stands_from_the_first_packet_on_has_cadence_zero_after_two_seconds() -> None:
    rotation, _ = after(*((float(k), 28181, 14019) for k in range(2)))
    assert math.isnan(rotation.rpm)
    rotation, _ = after(*((float(k), 28181, 14019) for k in range(4)))
    assert rotation.rpm == 0.0


def test_the_first_turn_after_a_stop_is_no_slow_turn() -> None:
    # Stands for 6 s; a pair over the stop would be 8 rpm.
    before = [(0.0, 10, 0), (0.7, 11, 700), (1.0, 11, 700), (4.0, 11, 700)]
    rotation, _ = after(*before, (8.2, 12, 700 + 7 * 1024))
    assert math.isnan(rotation.rpm)
    rotation, _ = after(*before, (8.2, 12, 700 + 7 * 1024), (8.9, 13, 1400 + 7 * 1024))
    assert rotation.rpm == pytest.approx(60.0 * 1024 / 700)


# --- what is refused, and where a pair begins anew -----------------------------------------------


def test_the_counters_of_two_sensors_in_one_state_are_refused() -> None:
    # Left and right crank mixed make thousands of rpm (a public thread tells of 15,308).
    mixed = [(0.0, 100, 0), (0.1, 5000, 300), (1.0, 101, 700), (1.1, 5001, 1000)]
    rotation, refused = after(*mixed)
    assert refused == [False, True, True, True]
    assert math.isnan(rotation.rpm)


@pytest.mark.parametrize(("ticks", "refused"), [(246, False), (245, True), (0, True)])
def test_over_250_rpm_is_refused(ticks: int, refused: bool) -> None:
    # 60 * 1024 / 250 = 245.76 ticks.
    rotation, found = after((0.0, 10, 0), (1.0, 11, ticks))
    assert found[-1] == refused
    assert math.isnan(rotation.rpm) == refused


def test_after_a_refusal_the_next_pair_begins_with_what_was_refused() -> None:
    rotation, refused = after((0.0, 900, 60000), (1.0, 3, 100), (1.7, 4, 800))
    assert refused == [False, True, False]
    assert rotation.rpm == pytest.approx(60.0 * 1024 / 700)


@pytest.mark.parametrize(
    ("ticks_per_s", "gap_s", "known"),
    [(1024, 55.0, True), (1024, 60.0, False), (1024, 70.0, False), (2048, 30.0, False)],
)
def test_a_gap_near_the_wrap_begins_the_pair_anew(
    ticks_per_s: int, gap_s: float, known: bool
) -> None:
    # Pedalled at 90 rpm through a gap in the radio: the counters went on.
    rotation = Rotation()
    n_turns = round(gap_s * 1.5)
    for t_s, count, second_s in ((0.0, 0, 0.0), (gap_s, n_turns, n_turns / 1.5)):
        ticks = round(second_s * ticks_per_s) % 65536
        turns = Turns(count, ticks, ticks_per_s, 16)
        rotation, refused = revolutions.follow(rotation, to_ns(t_s), turns, FASTEST)
        assert not refused
    assert math.isnan(rotation.rpm) != known
    if known:
        assert rotation.rpm == pytest.approx(90.0, abs=0.1)


# --- torque --------------------------------------------------------------------------------------


def test_power_from_the_accumulated_torque_of_a_real_pair() -> None:
    # 4.96875 and 6.96875 N m, crank 12 at 17125 and 43 at 63033: 2 pi * 2 N m in 44.83 s.
    rotation, _ = after((0.0, 12, 17125), (44.9, 43, 63033), torques=(159, 223))
    assert rotation.torque_power_w == pytest.approx(2 * math.pi * 2.0 / (45908 / 1024))


def test_power_of_four_turns_at_90_rpm_and_through_a_wrap() -> None:
    # Project arithmetic: 2716/32 = 84.875 N m over 4 turns, 21.21875 N m each; x 9.42478 rad/s =
    # 199.98 W. In whole ticks the turns take 2731/1024 s, 1 in 8000 longer.
    for before in (0, 65536 - 1000):
        torques = (before, (before + 2716) % 65536)
        rotation, _ = after((0.0, 10, 0), (2.7, 14, 2731), torques=torques)
        assert rotation.torque_power_w == pytest.approx(199.98, rel=2e-4)


def test_power_from_torque_goes_to_zero_with_the_crank_and_is_unknown_without_torque() -> None:
    with_torque, _ = after((0.0, 10, 0), (0.7, 11, 700), torques=(0, 600))
    assert revolutions.at(with_torque, to_ns(3.0)).torque_power_w == 0.0
    without, _ = after((0.0, 10, 0), (0.7, 11, 700))
    assert math.isnan(without.torque_power_w)
    assert math.isnan(revolutions.at(without, to_ns(3.0)).torque_power_w)


# --- any even crank ------------------------------------------------------------------------------


@QUICK
@given(
    rpm=st.floats(35.0, 240.0),
    every_s=st.sampled_from((0.25, 0.5, 1.0)),
    first_s=st.floats(0.0, 64.0),
    first_count=st.integers(0, 65535),
)
def test_any_even_cadence_comes_out_within_one_tick(
    rpm: float, every_s: float, first_s: float, first_count: int
) -> None:
    rotation, found = Rotation(), []
    for k in range(round(20.0 / every_s)):
        t_s = k * every_s
        turn = math.floor(t_s * rpm / 60.0)
        ticks = round((first_s + turn * 60.0 / rpm) * 1024) % 65536
        turns = crank((first_count + turn) % 65536, ticks)
        rotation, refused = revolutions.follow(rotation, to_ns(t_s), turns, FASTEST)
        assert not refused
        found.append(rotation.rpm)
    known = [value for value in found if not math.isnan(value)]
    assert len(known) >= len(found) - math.ceil(60.0 / rpm / every_s) - 1
    # One tick in a revolution: 0.06, 0.13, 0.20 rpm at 60, 90, 110 rpm.
    period_ticks = 60.0 * 1024 / rpm
    assert known == pytest.approx([rpm] * len(known), abs=rpm / (period_ticks - 1.0))
