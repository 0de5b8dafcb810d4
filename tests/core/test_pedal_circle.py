"""The ankle's circle, its centre, and the map from its angle to the crank's."""

from __future__ import annotations

import math

import numpy as np
import pytest

from posewatch.core.pedal_circle import (
    MAP_ORDER,
    NO_MAP,
    TURN,
    CrankGeometry,
    circle_angle,
    fit_circle,
    is_on_circle,
    learn_map,
    mapped_angle,
)

CIRCLE = CrankGeometry(300.0, -200.0, 40.0, NO_MAP)


@pytest.mark.parametrize(
    ("crank_deg", "place"),
    [(0, (0.0, 40.0)), (90, (40.0, 0.0)), (180, (0.0, -40.0)), (270, (-40.0, 0.0))],
)
def test_angle_about_the_centre(crank_deg: float, place: tuple[float, float]) -> None:
    # Bluetooth cycling-power definition seen from the right: 0 = 12 o'clock, 90 = forward; with x
    # forward and y up the pedal is at (L sin, L cos).
    point = (300.0 + place[0], -200.0 + place[1])
    assert circle_angle(CIRCLE, point) % TURN == pytest.approx(math.radians(crank_deg), abs=1e-12)


def test_only_points_near_the_circle_are_pedalling() -> None:
    def at(share: float) -> bool:
        return is_on_circle(CIRCLE, (300.0 + share * 40.0, -200.0))

    assert [at(s) for s in (0.3, 0.4, 1.0, 1.4, 1.6)] == [False, True, True, True, False]
    assert not is_on_circle(CIRCLE, (math.nan, -200.0))


def test_a_circle_is_found_exactly_and_within_noise() -> None:
    angles = np.linspace(0, TURN, 60, endpoint=False)
    exact = np.column_stack((300 + 40 * np.sin(angles), -200 + 40 * np.cos(angles)))
    assert fit_circle(exact) == pytest.approx((300.0, -200.0, 40.0), abs=1e-9)
    noisy = exact + np.random.default_rng(1).normal(0, 1.0, exact.shape)
    assert fit_circle(noisy) == pytest.approx((300.0, -200.0, 40.0), abs=0.6)


def test_a_map_is_the_angle_plus_its_harmonics() -> None:
    angle_map = (0.1, -0.2, 0.03, 0.04, -0.005, 0.006)
    t = 0.7
    expected = t + sum(
        angle_map[2 * k] * math.cos((k + 1) * t) + angle_map[2 * k + 1] * math.sin((k + 1) * t)
        for k in range(MAP_ORDER)
    )
    assert mapped_angle(angle_map, t) == pytest.approx(expected)
    assert mapped_angle(NO_MAP, t) == t


@pytest.mark.parametrize("rpm", [60.0, 90.0])
def test_even_pedalling_teaches_the_map(rpm: float) -> None:
    # The ankle runs ahead of and behind the crank by up to 12 degrees; its mean is the crank's.
    t_s = np.arange(0, 30, 1 / 30)
    crank = TURN * rpm / 60.0 * t_s
    ankle = crank + 0.2 * np.sin(crank + 0.4) + 0.05 * np.cos(2 * crank)
    ankle += np.random.default_rng(5).normal(0, 0.02, len(t_s))
    angle_map = learn_map([(ankle, t_s)])
    learned = np.array([mapped_angle(angle_map, a) for a in ankle])
    off_deg = np.degrees(learned - crank)
    off_deg -= off_deg.mean()
    assert np.degrees(np.std(ankle - crank)) > 8.0
    assert off_deg.std() < 1.6


def test_three_turns_are_not_enough_to_learn_from() -> None:
    t_s = np.arange(0, 2.5, 1 / 30)
    with pytest.raises(ValueError, match="three whole turns"):
        learn_map([(TURN * 1.0 * t_s + 0.1, t_s)])
