"""Smoothness of one revolution.

Expected figures are project arithmetic on the two published definitions (open wireless power
profile, page 0x13; the literature's other effectiveness).
"""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from posewatch.core import smoothness
from posewatch.core.sensor_records import CyclingPower, PowerVector, Turns
from posewatch.core.smoothness import Smoothness, TorqueState

SECTORS = [-4.0, 2.0, 12.0, 28.0, 34.0, 26.0, 12.0, 2.0, -6.0, -8.0, -8.0, -6.0]
BOTH_LEGS = [a + b for a, b in zip(SECTORS, SECTORS[6:] + SECTORS[:6], strict=True)]


def figures(one: Smoothness | None) -> tuple[float, float, float]:
    assert one is not None
    return (
        one.pedal_smoothness_pct,
        one.torque_effectiveness_pct,
        one.alternative_effectiveness_pct,
    )


def test_a_sine_about_a_mean() -> None:
    # 10 + 30 sin: means of the parts 15.0849 and -5.0849 N m.
    angles = np.arange(36000) * 2 * np.pi / 36000
    torques = 10.0 + 30.0 * np.sin(angles)
    one = smoothness.of_torques(torques, per_leg=True)
    assert figures(one) == pytest.approx((25.000, 66.2915, 74.7895), abs=1e-3)
    both = smoothness.of_torques(torques + np.roll(torques, 18000), per_leg=False)
    assert figures(both) == pytest.approx((100.0, 100.0, 100.0))


def test_twelve_sectors_of_one_leg_and_of_both() -> None:
    one = smoothness.of_torques(SECTORS, per_leg=True)
    assert figures(one) == pytest.approx((20.5882, 72.4138, 78.3784), abs=1e-4)
    assert BOTH_LEGS == [8, 4, 6, 20, 26, 20, 8, 4, 6, 20, 26, 20]
    both = smoothness.of_torques(BOTH_LEGS, per_leg=False)
    assert figures(both) == pytest.approx((53.8462, 100.0, 100.0), abs=1e-4)
    # Both legs together look perfect though each pulls back: it is said.
    assert one.per_leg
    assert not both.per_leg


def test_means_of_120_and_minus_20_give_83_and_86_percent() -> None:
    one = smoothness.of_torques([240.0, -40.0], per_leg=True)
    assert figures(one)[1:] == pytest.approx((83.333, 85.714), abs=1e-3)


@pytest.mark.parametrize("torques", [[0.0] * 12, [-1.0] * 12])
def test_where_nothing_drives_there_is_no_smoothness(torques: list[float]) -> None:
    one = smoothness.of_torques(torques, per_leg=True)
    assert all(math.isnan(value) for value in figures(one))


@settings(max_examples=60, derandomize=True, deadline=None)
@given(
    st.lists(st.integers(-50, 100).map(float), min_size=8, max_size=40).filter(
        lambda ts: max(ts) > 0.0
    ),
    st.floats(0.1, 10.0),
    st.integers(0, 39),
)
def test_scale_and_where_the_turn_begins_change_nothing(
    torques: list[float], scale: float, begin: int
) -> None:
    plain = figures(smoothness.of_torques(torques, per_leg=True))
    moved = [scale * t for t in torques[begin:] + torques[:begin]]
    assert figures(smoothness.of_torques(moved, per_leg=True)) == pytest.approx(plain, abs=1e-6)
    # The literature's effectiveness is never the lower; both are 100 where nothing pulls back.
    pedal, effectiveness, other = plain
    assert pedal <= 100.0 + 1e-9
    assert effectiveness <= other + 1e-9 <= 100.0 + 2e-9
    assert (min(torques) >= 0.0) == (effectiveness == pytest.approx(100.0, abs=1e-6))


# --- torque vectors ------------------------------------------------------------------------------


def vector(count: int, torques: list[float]) -> PowerVector:
    return PowerVector(Turns(count % 65536, 0, 1024, 16), 0, (), tuple(torques), 1)


def fed(records: Iterable[PowerVector | CyclingPower]) -> list[Smoothness | None]:
    state, found = TorqueState(), []
    for one in records:
        state, ended = smoothness.step(state, one, per_leg=True)
        found.append(ended)
    return found


def test_revolutions_come_out_of_vectors_whole_or_in_pieces() -> None:
    whole = fed([vector(65534 + k, SECTORS) for k in range(4)])
    # The first may have come in halfway; the second ends with the third's first vector.
    assert whole[:2] == [None, None]
    assert figures(whole[2]) == pytest.approx((20.5882, 72.4138, 78.3784), abs=1e-4)
    assert whole[3] == whole[2]
    pieces = fed([vector(k, SECTORS[3 * n : 3 * n + 3]) for k in range(3) for n in range(4)])
    assert [k for k, one in enumerate(pieces) if one is not None] == [8]
    assert pieces[8] == whole[2]


def test_packets_without_a_counter_go_on_with_the_revolution() -> None:
    """A packet of 20 bytes holds nine torques, or seven beside the counter (2A64's layout)."""
    rest = PowerVector(None, None, (), tuple(SECTORS[7:]), 1)
    found = fed([rest, *(one for k in range(3) for one in (vector(k, SECTORS[:7]), rest))])
    assert [k for k, one in enumerate(found) if one is not None] == [5]
    assert figures(found[5]) == pytest.approx((20.5882, 72.4138, 78.3784), abs=1e-4)


def test_a_lost_revolution_is_not_glued_over() -> None:
    found = fed([vector(k, SECTORS) for k in (1, 2, 4, 5, 6)])
    assert [one is not None for one in found] == [False, False, False, False, True]


def test_too_few_torques_forces_and_missing_counters_give_nothing() -> None:
    assert fed([vector(k, SECTORS[:7]) for k in range(5)]) == [None] * 5
    forces = [PowerVector(Turns(k, 0, 1024, 16), 0, (100,) * 12) for k in range(5)]
    assert fed(forces) == [None] * 5
    assert fed([PowerVector(None, 0, (), tuple(SECTORS))] * 5) == [None] * 5


# --- accumulated and largest torque --------------------------------------------------------------


def measured(
    turn: int, torque_nm: float, largest_nm: float | None = 34.0, at_crank: bool = True
) -> CyclingPower:
    """A measurement after so many turns, with the accumulated torque that a meter then has."""
    return CyclingPower(
        200,
        torque_1_32_nm=round(32 * torque_nm) % 65536,
        torque_at_crank=at_crank,
        crank=Turns(turn % 65536, 0, 1024, 16),
        torque_nm=None if largest_nm is None else (largest_nm, -8.0),
    )


def test_mean_and_largest_torque_of_a_turn_give_the_pedal_smoothness_alone() -> None:
    # The twelve sectors above: mean 7.0, largest 34.0 N m, so 20.588 %. Both counters wrap.
    found = fed([measured(65534 + k, 2041.0 + 7.0 * k) for k in range(4)])
    assert found[0] is None
    for one in found[1:]:
        assert one is not None
        assert one.pedal_smoothness_pct == pytest.approx(20.588, abs=1e-3)
        assert math.isnan(one.torque_effectiveness_pct)


def test_what_is_not_of_one_turn_or_cannot_be_gives_nothing() -> None:
    assert fed([measured(1, 7.0), measured(1, 7.0), measured(3, 21.0)]) == [None] * 3
    assert fed([measured(k, 7.0 * k, None) for k in range(3)]) == [None] * 3
    assert fed([measured(k, 7.0 * k, at_crank=False) for k in range(3)]) == [None] * 3
    assert fed([measured(k, 40.0 * k) for k in range(3)]) == [None] * 3
    assert fed([measured(k, -7.0 * k) for k in range(3)]) == [None] * 3


def test_where_there_are_vectors_they_alone_tell() -> None:
    both = [one for k in range(4) for one in (vector(k, SECTORS), measured(k, 7.0 * k, 70.0))]
    told = [one for one in fed(both) if one is not None]
    assert len(told) == 2
    assert {round(one.pedal_smoothness_pct, 3) for one in told} == {20.588}


# --- left and right ------------------------------------------------------------------------------


def test_asymmetry_is_not_the_balance() -> None:
    # 52 : 48 is an asymmetry of 8 % and a balance of 52 %.
    assert smoothness.asymmetry_pct(52.0, 48.0) == pytest.approx(8.0)
    assert smoothness.asymmetry_pct(96.0, 104.0) == pytest.approx(-8.0)
    assert math.isnan(smoothness.asymmetry_pct(0.0, 0.0))
    assert smoothness.left_share(CyclingPower(200, 0.52, balance_is_left=True)) == 0.52


def test_a_balance_of_no_named_leg_is_of_neither() -> None:
    assert math.isnan(smoothness.left_share(CyclingPower(200, 0.52)))
    assert math.isnan(smoothness.left_share(CyclingPower(200)))
