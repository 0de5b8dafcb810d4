"""The cadence at a held power. Limits are a judgement of ours: 70 % of the plan, 50 rpm without."""

from __future__ import annotations

import math

import pytest

from posewatch.core import trainer_cadence
from posewatch.core.timebase import to_ns
from posewatch.core.trainer_cadence import Cadence, CadenceLimits

LIMITS = CadenceLimits()


def told(*rpm: float, planned_rpm: float | None = 90.0, every_s: float = 0.5) -> Cadence:
    """Tell cadences from 0 s on."""
    cadence = Cadence(planned_rpm)
    for n, one in enumerate(rpm):
        cadence = trainer_cadence.heard(cadence, to_ns(n * every_s), one, LIMITS)
    return cadence


def test_at_one_power_half_the_cadence_needs_twice_the_torque() -> None:
    # P = torque x angular velocity: 200 W are 21.2207 N m at 90 rpm (project arithmetic).
    torque_nm = 200.0 / (90.0 * 2.0 * math.pi / 60.0)
    assert torque_nm == pytest.approx(21.2207, abs=1e-4)
    assert 200.0 / (45.0 * 2.0 * math.pi / 60.0) == pytest.approx(2.0 * torque_nm)


@pytest.mark.parametrize(("planned", "least"), [(90.0, 63.0), (60.0, 42.0), (None, 50.0)])
def test_the_least_cadence_is_a_share_of_the_plan(planned: float | None, least: float) -> None:
    assert trainer_cadence.least_rpm(Cadence(planned), LIMITS) == pytest.approx(least)


def test_a_cadence_that_stays_too_low_for_two_seconds_is_let_go() -> None:
    cadence = told(90.0, 70.0, 62.0, 61.0, 60.0)  # too low from 1 s on, last told at 2 s
    assert trainer_cadence.next_ns(cadence, LIMITS) == to_ns(3.0)
    assert trainer_cadence.why_let_go(cadence, to_ns(2.9), LIMITS) == ""
    why = trainer_cadence.why_let_go(cadence, to_ns(3.0), LIMITS)
    assert "sank to 60 rpm (limit 63)" in why


def test_a_moment_of_slowness_is_forgiven() -> None:
    assert told(90.0, 60.0, 64.0, 60.0).slow_ns == to_ns(1.5)


def test_a_cadence_that_is_not_told_any_more_is_let_go_and_one_never_told_is_not() -> None:
    cadence = told(90.0, 90.0)
    assert trainer_cadence.why_let_go(cadence, to_ns(5.4), LIMITS) == ""
    assert "nobody sees" in trainer_cadence.why_let_go(cadence, to_ns(5.5), LIMITS)
    assert trainer_cadence.next_ns(cadence, LIMITS) == to_ns(5.5)
    assert trainer_cadence.why_let_go(Cadence(90.0), to_ns(1e4), LIMITS) == ""
    assert trainer_cadence.next_ns(Cadence(90.0), LIMITS) is None


def test_no_raise_while_the_cranks_stand_or_nobody_knows() -> None:
    def why(cadence: Cadence, at_s: float) -> str:
        return trainer_cadence.why_not_raise(cadence, to_ns(at_s), LIMITS)

    assert why(told(90.0), 1.0) == ""
    assert why(Cadence(90.0), 1.0) == ""
    assert "turn at 0 rpm" in why(told(0.0), 0.1)
    assert "not told any more" in why(told(90.0), 5.0)
