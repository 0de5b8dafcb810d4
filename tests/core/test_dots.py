"""Where dots are expected, and how they are followed: spots without pictures."""

from __future__ import annotations

import math

import numpy as np
import pytest
from made_dots import ANKLE, HIP, KNEE, PEDAL, SHOULDER, Ride, centres_px, landmarks, swapped

from posewatch.core import dots
from posewatch.core.dot_fit import DOT_ROWS, N_DOTS, Spot
from posewatch.core.dots import DotsState
from posewatch.core.landmarks import LANDMARKS
from posewatch.core.records import NS_PER_S, FloatArray, Frame, Side

RIDE = Ride()
AREA_PX = 28.0


def spot(place: FloatArray, area_px: float = AREA_PX) -> Spot:
    return Spot(float(place[0]), float(place[1]), area_px, 2.25, 0.0, 2.25)


class Followed:
    """Steps through a ride; every spot is offered to every dot, in changing order."""

    def __init__(self, ride: Ride = RIDE, seed: int = 0) -> None:
        self.ride = ride
        self.state = DotsState()
        self.rng = np.random.default_rng(seed)
        self.number = 0

    def step(self, hidden: tuple[int, ...] = (), mixed_up: bool = False) -> list[Spot | None]:
        t_s = self.number / self.ride.rate_hz
        self.number += 1
        frame = landmarks(self.ride, t_s, round(t_s * NS_PER_S), self.rng)
        frame = swapped(frame) if mixed_up else frame
        self.truth = centres_px(self.ride, t_s)
        there = [spot(self.truth[dot]) for dot in range(N_DOTS) if dot not in hidden]
        order = self.rng.permutation(len(there))
        self.state, self.expected = dots.expect(self.state, frame, self.ride.side)
        self.state, found = dots.take_in(
            self.state, frame.t_ns, self.expected, [there[i] for i in order]
        )
        return found

    def is_right(self, found: list[Spot | None], hidden: tuple[int, ...] = ()) -> bool:
        return all(
            (one is None) if dot in hidden else one == spot(self.truth[dot])
            for dot, one in enumerate(found)
        )


@pytest.mark.parametrize("rate_hz", [15.0, 25.0, 30.0, 60.0])
@pytest.mark.parametrize("faces", [1, -1])
def test_every_dot_is_followed_through_the_turns(rate_hz: float, faces: int) -> None:
    followed = Followed(Ride(rate_hz, rpm=110.0, faces=faces))
    assert all(followed.is_right(followed.step()) for _ in range(round(3 * rate_hz)))


@pytest.mark.parametrize("hidden", [(HIP,), (ANKLE,), (PEDAL,), (SHOULDER, KNEE)])
def test_an_unseen_dot_is_nobody_else_s_and_comes_back(hidden: tuple[int, ...]) -> None:
    followed = Followed()
    for number in range(90):
        now = hidden if 20 <= number < 60 else ()
        assert followed.is_right(followed.step(now), now), number


def test_mixed_up_legs_swap_no_followed_dots() -> None:
    followed = Followed()
    for number in range(90):
        assert followed.is_right(followed.step(mixed_up=number % 20 > 10)), number


def test_the_prediction_goes_round_with_the_foot() -> None:
    # A circle of radius r turned by w a picture leaves its osculating parabola by r w^3.
    followed = Followed()
    r, w = 42.0, 2 * math.pi * RIDE.rpm / 60 / RIDE.rate_hz
    for _ in range(30):
        followed.step()
        one = followed.expected[PEDAL]
        if len(followed.state.tracks[PEDAL].places) == 3 and followed.number > 4:
            assert math.dist(one.places[0], followed.truth[PEDAL]) < 1.1 * r * w**3 + 1e-6
            assert one.followed


def test_a_spot_that_jumps_is_another_thing() -> None:
    followed = Followed()
    for _ in range(10):
        followed.step()
    frame = landmarks(RIDE, 10 / 30, 333_333_333, followed.rng)
    state, expected = dots.expect(followed.state, frame, Side.RIGHT)
    jumped = spot(centres_px(RIDE, 10 / 30)[SHOULDER] + (14.0, 0.0))
    _, found = dots.take_in(state, frame.t_ns, expected, [jumped])
    assert found == [None] * N_DOTS


@pytest.mark.parametrize(
    ("share", "is_dot"), [(1.0, True), (0.8, True), (0.6, False), (1.6, False)]
)
def test_a_partly_covered_dot_is_not_found(share: float, is_dot: bool) -> None:
    followed = Followed()
    for _ in range(30):
        followed.step()
    frame = landmarks(RIDE, 1.0, NS_PER_S, followed.rng)
    state, expected = dots.expect(followed.state, frame, Side.RIGHT)
    one = spot(centres_px(RIDE, 1.0)[HIP], share * AREA_PX)
    _, found = dots.take_in(state, frame.t_ns, expected, [one])
    assert found[HIP] == (one if is_dot else None)


def test_dots_taken_for_each_other_are_put_right() -> None:
    followed = Followed()
    for _ in range(10):
        followed.step()
    tracks = list(followed.state.tracks)
    tracks[KNEE], tracks[ANKLE] = tracks[ANKLE], tracks[KNEE]
    followed.state = DotsState(tuple(tracks), followed.state.thigh_px, followed.state.t_ns)
    late = [followed.is_right(followed.step()) for _ in range(30)][-15:]
    assert all(late)


def test_landmarks_of_nobody_expect_nothing() -> None:
    nothing = np.zeros(33)
    frame = Frame(0, np.full((33, 2), np.nan), nothing, nothing)
    state, expected = dots.expect(DotsState(), frame, Side.RIGHT)
    assert dots.sticker_area_px(state) == 0
    assert dots.longer_thigh_px(frame) == 0
    assert all(one.places == () for one in expected)
    assert dots.take_in(state, 0, expected, [spot(np.array((5.0, 5.0)))])[1] == [None] * N_DOTS


def test_the_spindle_is_expected_below_the_foot_on_either_side() -> None:
    for faces in (1, -1):
        ride = Ride(faces=faces, landmark_noise_px=0.0)
        frame = landmarks(ride, 0.3, 0, np.random.default_rng(0))
        wanted = dots.beside(frame, ride.side)[PEDAL]
        assert wanted is not None
        assert math.dist(wanted, centres_px(ride, 0.3)[PEDAL]) < 8.0


def test_a_frame_with_dots_says_what_is_found() -> None:
    frame = landmarks(RIDE, 0.0, 7, np.random.default_rng(0))
    at = spot(np.array((100.03, 200.04)))
    dotted = dots.with_dots(frame, Side.RIGHT, [at, None, at, None, None])
    rows = LANDMARKS[Side.RIGHT][list(DOT_ROWS)]
    assert dotted.t_ns == 7
    # Sixteenths of a pixel, as landmarks are stored.
    assert dotted.points_px[rows[0]].tolist() == [100.0, 200.0625]
    assert np.isnan(dotted.points_px[rows[[1, 3, 4]]]).all()
    assert dotted.visibility[rows].tolist() == dotted.presence[rows].tolist() == [1, 0, 1, 0, 0]
