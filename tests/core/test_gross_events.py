"""Events read from single moments: what begins them, what does not, and when they are over."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from posewatch.core import gross_events
from posewatch.core.gross_events import Change, GrossState, Moment
from posewatch.core.outputs import Reason
from posewatch.core.timebase import to_ns

RATE_HZ = 30.0
PEDALLING = 2 * math.pi * 1.5

#: How far hip (along, up) and hand are off, mm.
Away = tuple[float, float, float]
FITTED: Away = (0.0, 0.0, 0.0)
HIP_ALONG, HIP_UP, HAND = range(3)

Evidence = tuple[bool, Away, float]
Event = tuple[float, Reason, bool]


def follow(seconds: float, at: Callable[[float], Evidence]) -> list[Event]:
    """Return (s, reason, begins) of each change; at(t_s) = seen, mm off, crank speed."""
    state = GrossState()
    found: list[Change] = []
    for index in range(round(seconds * RATE_HZ)):
        seen, away, speed = at(index / RATE_HZ)
        moment = Moment(to_ns(index / RATE_HZ), seen, *away, speed)
        state, changes = gross_events.step(state, moment)
        found += changes
    return [(c.t_ns / 1e9, c.reason, c.begins) for c in found]


def off(part: int, value_mm: float) -> Away:
    away = list(FITTED)
    away[part] = value_mm
    return away[0], away[1], away[2]


def off_between(part: int, value: float, begin_s: float, end_s: float) -> list[Event]:
    """Follow 6 s in which one place is off for a while."""

    def at(t_s: float) -> Evidence:
        return True, off(part, value if begin_s <= t_s < end_s else 0.0), PEDALLING

    return follow(6.0, at)


def assert_event(found: list[Event], reason: Reason, begin_s: float, end_s: float) -> None:
    (t0_s, began, first), (t1_s, ended, second) = found
    assert (began, ended, first, second) == (reason, reason, True, False)
    assert t0_s == pytest.approx(begin_s, abs=0.05)
    assert t1_s == pytest.approx(end_s, abs=0.05)


@pytest.mark.parametrize(
    ("part", "value", "reason"),
    [
        (HIP_UP, 61.0, Reason.OUT_OF_SADDLE),
        (HIP_ALONG, 108.0, Reason.OUT_OF_SADDLE),
        (HIP_ALONG, -108.0, Reason.OUT_OF_SADDLE),
        (HAND, 96.0, Reason.HAND_OFF),
    ],
)
def test_far_from_its_place_begins_after_three_tenths_and_ends_likewise(
    part: int, value: float, reason: Reason
) -> None:
    assert_event(off_between(part, value, 2.0, 4.0), reason, 2.3, 4.3)


@pytest.mark.parametrize(
    ("part", "value"), [(HIP_UP, 59.0), (HIP_UP, -300.0), (HIP_ALONG, 106.0), (HAND, 94.0)]
)
def test_less_than_that_is_no_event(part: int, value: float) -> None:
    assert off_between(part, value, 2.0, 4.0) == []


def test_a_short_flicker_is_no_event() -> None:
    assert off_between(HAND, 200.0, 2.0, 2.25) == []


def test_single_wrong_pictures_never_add_up_to_an_event() -> None:
    def at(t_s: float) -> Evidence:
        wrong = round(t_s * RATE_HZ) % 9 < 8
        return True, off(HIP_UP, 200.0 if wrong else 0.0), PEDALLING

    assert follow(5.0, at) == []


def test_pictures_that_cannot_tell_neither_begin_nor_end_an_event() -> None:
    def at(t_s: float) -> Evidence:
        value = math.nan if 2.0 <= t_s < 4.0 or t_s >= 5.5 else 200.0 if t_s >= 4.0 else 0.0
        return True, off(HAND, value), PEDALLING

    assert [e[1:] for e in follow(8.0, at)] == [(Reason.HAND_OFF, True)]


# --- nobody there ------------------------------------------------------------------------------


def test_not_seen_for_over_a_second() -> None:
    found = follow(6.0, lambda t_s: (not 2.0 <= t_s < 4.0, FITTED, PEDALLING))
    assert_event(found, Reason.NOT_SEEN, 3.0, 4.0)


def test_not_seen_for_less_is_no_event() -> None:
    assert follow(4.0, lambda t_s: (not 2.0 <= t_s < 2.95, FITTED, PEDALLING)) == []


def test_time_that_passes_without_pictures_tells_it_too() -> None:
    state, _ = gross_events.step(GrossState(), Moment(to_ns(5.0), True, *FITTED, PEDALLING))
    state, changes = gross_events.tick(state, to_ns(6.0))
    assert changes == ()
    state, changes = gross_events.tick(state, to_ns(6.1))
    assert [(c.reason, c.begins) for c in changes] == [(Reason.NOT_SEEN, True)]
    assert gross_events.tick(state, to_ns(7.0))[1] == ()


@pytest.mark.parametrize("tick_s", [6.01, 6.2, 9.0])
def test_the_moment_it_is_told_does_not_depend_on_when_somebody_looks(tick_s: float) -> None:
    state, _ = gross_events.step(GrossState(), Moment(to_ns(5.0), True, *FITTED, PEDALLING))
    _, changes = gross_events.tick(state, to_ns(tick_s))
    assert changes == (Change(to_ns(6.0), Reason.NOT_SEEN, begins=True),)


# --- the crank -----------------------------------------------------------------------------------


def speeds(at_rpm: Callable[[float], float], seconds: float = 8.0) -> list[Event]:
    def at(t_s: float) -> Evidence:
        return True, FITTED, 2 * math.pi * at_rpm(t_s) / 60.0

    return follow(seconds, at)


def test_coasting_for_over_half_a_turn() -> None:
    # At 90 rpm half a turn takes a third of a second.
    found = speeds(lambda t_s: 0.0 if 2.0 <= t_s < 5.0 else 90.0)
    assert_event(found, Reason.COASTED, 2.33, 5.0)


def test_back_pedalling_has_its_own_name() -> None:
    found = speeds(lambda t_s: -60.0 if 2.0 <= t_s < 4.0 else 90.0)
    assert_event(found, Reason.BACK_PEDALLED, 2.2, 4.0)


def test_a_hesitation_of_less_than_half_a_turn_is_no_event() -> None:
    assert speeds(lambda t_s: 0.0 if 2.0 <= t_s < 2.25 else 90.0) == []


@pytest.mark.parametrize("rpm", [42.0, 60.0, 120.0])
def test_steady_pedalling_at_any_pace_is_no_event(rpm: float) -> None:
    assert speeds(lambda _: rpm) == []


def test_a_change_of_pace_is_no_event() -> None:
    assert speeds(lambda t_s: 110.0 if t_s < 3.0 else 60.0) == []


def test_standing_still_from_the_start_is_no_event() -> None:
    # Nobody stopped; the rider has not begun. The hold stands nowhere anyway.
    assert speeds(lambda _: 0.0) == []


def test_a_crank_that_is_not_known_tells_nothing() -> None:
    assert speeds(lambda t_s: math.nan if 2.0 <= t_s < 5.0 else 90.0) == []


def test_two_wrong_pictures_far_apart_do_not_last() -> None:
    def at(t_s: float) -> Evidence:
        if 2.1 <= t_s < 2.9:
            return True, off(HAND, math.nan), PEDALLING
        return True, off(HAND, 200.0 if 2.05 <= t_s < 2.95 else 0.0), PEDALLING

    assert follow(5.0, at) == []
