"""The crank angle from noisy ankles, against the angle that drew them."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import pytest

from posewatch.core import crank
from posewatch.core.crank import CrankReading, CrankState
from posewatch.core.pedal_circle import NO_MAP, TURN, CrankGeometry, Point
from posewatch.core.records import BoolArray, FloatArray
from posewatch.core.timebase import to_ns

CENTRE, RADIUS_PX, THIGH_PX = (300.0, -250.0), 41.8, 108.0
CIRCLE = CrankGeometry(*CENTRE, RADIUS_PX, NO_MAP)
#: At 1 px noise on a circle of 41.8 px one ankle is 1.4 degrees off.
NOISE_PX = 1.0
WORST_SD_DEG = 3.5

Labels = Callable[[int], str]


@dataclass(frozen=True)
class Ride:
    """What was read, picture by picture, beside the truth (rad, counting on over turns)."""

    t_s: FloatArray
    truth: FloatArray
    readings: Sequence[CrankReading]
    state: CrankState

    def known(self, after_s: float = 1.0) -> BoolArray:
        return np.array(
            [r.known and t >= after_s for r, t in zip(self.readings, self.t_s, strict=True)]
        )

    def off_deg(self, after_s: float = 1.0) -> FloatArray:
        """Return the errors, wrapped, of the known angles."""
        angles = np.array([r.angle_rad for r in self.readings])
        off = np.degrees(angles - self.truth)[self.known(after_s)]
        return np.asarray((off + 180.0) % 360.0 - 180.0)

    def turns_counted(self, after_s: float = 1.0) -> float:
        angles = np.array([r.angle_rad for r in self.readings])[self.known(after_s)]
        return float(angles[-1] - angles[0]) / TURN


def at(angle_rad: float, noise: FloatArray) -> Point:
    return (
        CENTRE[0] + RADIUS_PX * math.sin(angle_rad) + float(noise[0]),
        CENTRE[1] + RADIUS_PX * math.cos(angle_rad) + float(noise[1]),
    )


def ride(
    angle_at: Callable[[float], float],
    seconds: float = 12.0,
    rate_hz: float = 30.0,
    label: Labels = lambda index: "right",
    geometry: CrankGeometry | None = CIRCLE,
    noise_px: float = NOISE_PX,
) -> Ride:
    """Ride; label(index) says "right", "swapped" or "gone" for each picture's two ankles."""
    random = np.random.default_rng(7)
    state = CrankState(geometry)
    t_s = np.arange(round(seconds * rate_hz)) / rate_hz
    truth = np.array([angle_at(float(t)) for t in t_s])
    readings = []
    for index, (t, angle) in enumerate(zip(t_s, truth, strict=True)):
        noise = random.normal(0, noise_px, (2, 2))
        near, far = at(angle, noise[0]), at(angle + math.pi, noise[1])
        what = label(index)
        pair = {"right": (near, far), "swapped": (far, near), "gone": (None, None)}[what]
        state, reading = crank.step(state, to_ns(float(t)), *pair, THIGH_PX)
        readings.append(reading)
    return Ride(t_s, truth, readings, state)


def evenly(rpm: float) -> Callable[[float], float]:
    return lambda t_s: TURN * rpm / 60.0 * t_s + 0.3


@pytest.mark.parametrize("rate_hz", [25.0, 30.0, 60.0])
@pytest.mark.parametrize("rpm", [60.0, 90.0, 110.0])
def test_steady_pedalling(rate_hz: float, rpm: float) -> None:
    found = ride(evenly(rpm), rate_hz=rate_hz)
    assert found.known().sum() == pytest.approx(11.0 * rate_hz, abs=1)
    assert found.off_deg().std() <= WORST_SD_DEG
    assert np.abs(found.off_deg()).max() <= 15.0
    assert found.turns_counted() == pytest.approx(11.0 * rpm / 60.0, abs=0.1)


def test_a_steady_crank_is_followed_without_lag() -> None:
    # A filter on angle alone would trail by speed times its delay; this one knows the speed.
    found = ride(evenly(90.0), seconds=20.0)
    assert found.off_deg(2.0).mean() == pytest.approx(0.0, abs=0.3)
    speeds = [r.speed_rad_s for r in found.readings[60:]]
    assert np.mean(speeds) == pytest.approx(TURN * 1.5, rel=0.003)


def test_the_filter_is_better_than_one_ankle() -> None:
    # atan of 1 px over 41.8 px = 1.37 degrees.
    assert ride(evenly(90.0), seconds=20.0).off_deg(2.0).std() < 1.37


@pytest.mark.parametrize("percent", [1, 5, 10])
def test_swapped_labels_do_not_turn_it_round(percent: int) -> None:
    swaps = np.random.default_rng(percent).random(600) < percent / 100
    found = ride(evenly(90.0), 20.0, label=lambda k: "swapped" if swaps[k] else "right")
    assert np.abs(found.off_deg()).max() <= 15.0
    assert found.off_deg().std() <= WORST_SD_DEG
    assert found.turns_counted() == pytest.approx(19.0 * 1.5, abs=0.1)
    told = [r.swapped for r in found.readings[30:]]
    assert np.mean(np.array(told) == swaps[30:]) > 0.995


@pytest.mark.parametrize("first", range(90, 110, 4))
def test_a_burst_of_ten_swapped_pictures_does_not_turn_it_round(first: int) -> None:
    found = ride(evenly(90.0), label=lambda k: "swapped" if first <= k < first + 10 else "right")
    assert np.abs(found.off_deg()).max() <= 15.0
    assert found.turns_counted() == pytest.approx(11.0 * 1.5, abs=0.1)
    assert all(r.swapped for r in found.readings[first : first + 10])


def test_five_pictures_lost_at_the_top_are_bridged() -> None:
    top = next(k for k in range(150, 300) if (evenly(90.0)(k / 30.0) / TURN) % 1.0 > 0.9)
    found = ride(evenly(90.0), label=lambda k: "gone" if top <= k < top + 5 else "right")
    assert all(r.known and not r.measured for r in found.readings[top : top + 5])
    assert np.abs(found.off_deg()).max() <= 15.0
    assert found.turns_counted() == pytest.approx(11.0 * 1.5, abs=0.1)


@pytest.mark.parametrize("eighth", range(8))
def test_a_sudden_stop_is_seen_and_pedalling_taken_up_again(eighth: int) -> None:
    stop_s, go_s = 5.0 + eighth / 8 / 1.5, 8.0

    def angle(t_s: float) -> float:
        return TURN * 1.5 * (min(t_s, stop_s) + max(0.0, t_s - go_s))

    found = ride(angle, 12.0)
    speeds = np.array([r.speed_rad_s for r in found.readings])
    stopped = (found.t_s > stop_s + 0.5) & (found.t_s < go_s)
    assert np.nanmax(np.abs(speeds[stopped])) < TURN * 20 / 60
    settled = (found.t_s > go_s + 1.0) & found.known()
    angles = np.array([r.angle_rad for r in found.readings])
    off = (np.degrees(angles - found.truth)[settled] + 180.0) % 360.0 - 180.0
    assert np.abs(off).max() <= 15.0


def test_half_a_turn_backwards_is_followed() -> None:
    def angle(t_s: float) -> float:
        back = max(0.0, min(t_s, 6.5) - 6.0)
        return TURN * 1.5 * (min(t_s, 6.0) + max(0.0, t_s - 6.5)) - TURN * back

    found = ride(angle, 12.0)
    back = [r.speed_rad_s for r, t in zip(found.readings, found.t_s, strict=True) if 6.3 < t < 6.5]
    assert min(back) < 0.0
    settled = found.off_deg(8.0)
    assert np.abs(settled).max() <= 15.0


def test_a_ramp_from_70_to_100_rpm() -> None:
    def angle(t_s: float) -> float:
        ramp = min(max(t_s - 2.0, 0.0), 6.0)
        return TURN / 60.0 * (70.0 * t_s + 5.0 * ramp**2 / 2 + 30.0 * max(0.0, t_s - 8.0))

    found = ride(angle, 12.0)
    assert found.off_deg().std() <= WORST_SD_DEG
    assert np.abs(found.off_deg()).max() <= 15.0
    speeds = [r.speed_rad_s * 60.0 / TURN for r in found.readings]
    assert np.mean(speeds[30:60]) == pytest.approx(70.0, abs=1.0)
    assert np.mean(speeds[-60:]) == pytest.approx(100.0, abs=1.0)


@pytest.mark.parametrize("eighth", range(8))
def test_from_70_to_100_rpm_within_a_stroke(eighth: int) -> None:
    # Half a second of 60 rpm/s: what the filter takes for noise, it must still follow.
    begin_s = 5.0 + eighth / 8 * 60.0 / 70.0

    def angle(t_s: float) -> float:
        ramp_s = min(max(t_s - begin_s, 0.0), 0.5)
        after_s = max(0.0, t_s - begin_s - 0.5)
        return TURN / 60.0 * (70.0 * t_s + 60.0 * ramp_s**2 / 2 + 30.0 * after_s)

    found = ride(angle, 10.0)
    assert np.abs(found.off_deg()).max() <= 15.0
    assert not any(r.swapped for r in found.readings[30:])
    turned = (angle(found.t_s[-1]) - angle(1.0)) / TURN
    assert found.turns_counted() == pytest.approx(turned, abs=0.1)


def test_after_a_second_without_an_ankle_the_angle_is_unknown_and_then_taken_up() -> None:
    found = ride(evenly(90.0), label=lambda k: "gone" if 150 <= k < 200 else "right")
    lost = [r.known for r in found.readings[150:200]]
    assert lost[:28] == [True] * 28
    assert not any(lost[33:])
    assert found.readings[200].known
    assert np.abs(found.off_deg(8.0)).max() <= 15.0


def test_an_ankle_off_the_circle_is_not_used() -> None:
    state = ride(evenly(90.0), 4.0).state
    outside = (CENTRE[0] + 3 * RADIUS_PX, CENTRE[1])
    _, reading = crank.step(state, to_ns(4.0), outside, None, THIGH_PX)
    assert reading.known
    assert not reading.measured


# --- the first circle -------------------------------------------------------------------------


@pytest.mark.parametrize("rpm", [50.0, 70.0, 90.0, 110.0])
def test_the_first_circle_is_found_without_a_target(rpm: float) -> None:
    found = ride(evenly(rpm), geometry=None, seconds=10.0)
    known = [r.known for r in found.readings]
    first_s = known.index(True) / 30.0
    assert first_s <= 60.0 / rpm + 0.3
    assert all(known[known.index(True) :])
    assert found.off_deg(3.0).std() <= WORST_SD_DEG
    assert np.abs(found.off_deg(3.0)).max() <= 15.0


def test_a_foot_that_rests_makes_no_circle() -> None:
    assert not any(r.known for r in ride(lambda _: 1.0, geometry=None, seconds=6.0).readings)


def test_a_foot_that_rocks_makes_no_circle() -> None:
    rocking = ride(lambda t_s: 1.0 * math.sin(6.0 * t_s), geometry=None, seconds=6.0)
    assert not any(r.known for r in rocking.readings)


@pytest.mark.parametrize("thigh_px", [60.0, 300.0, math.nan])
def test_a_circle_that_is_no_crank_for_this_thigh_is_not_taken(thigh_px: float) -> None:
    state = CrankState()
    for k in range(120):
        place = at(evenly(90.0)(k / 30.0), np.zeros(2))
        state, reading = crank.step(state, to_ns(k / 30.0), place, None, thigh_px)
        assert not reading.known


@pytest.mark.parametrize("rpm", [36.0, 90.0])
def test_circle_and_map_stay_as_they_were_captured(rpm: float) -> None:
    # A bracket does not move while it is watched; a centre that followed the ankle would wander
    # with the ankling, and the angle with it.
    shifted = CrankGeometry(CENTRE[0] + 6.0, CENTRE[1] - 4.0, RADIUS_PX, (0.01,) * 6)
    assert ride(evenly(rpm), 20.0, geometry=shifted).state.geometry == shifted


def test_the_same_ankles_give_the_same_angles_to_the_bit() -> None:
    one, two = (ride(evenly(80.0), 5.0) for _ in range(2))
    assert repr(one.readings) == repr(two.readings)
