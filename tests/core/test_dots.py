"""Which dot is which: spots of dots that go round, given to their joints."""

from __future__ import annotations

import math

import numpy as np
import pytest
from linkage_rider import Pose, to_frame

from posewatch.core import dots
from posewatch.core.dots import DOT_ROWS, DotsState, Spot
from posewatch.core.landmarks import HIP, KNEE, LANDMARKS, TOE
from posewatch.core.records import Frame, Side

RATE_HZ, RPM = 30.0, 90.0
RADIUS_PX = 3.0
ROWS = LANDMARKS[Side.RIGHT][list(DOT_ROWS)]
KNEE_DOT = DOT_ROWS.index(KNEE)


def disc(x: float, y: float, radius: float = RADIUS_PX) -> Spot:
    spread = radius * radius / 4.0
    return Spot(x, y, math.pi * radius * radius, spread, 0.0, spread)


def frame_at(n: int) -> Frame:
    pose = Pose(6.0 * RPM * n / RATE_HZ)
    return to_frame(round(n / RATE_HZ * 1e9), pose, 0.0, np.random.default_rng(0))


def places(frame: Frame) -> np.ndarray:
    return frame.points_px[ROWS]


def follow(
    n_frames: int, missing: dict[int, set[int]] | None = None, extra: tuple[Spot, ...] = ()
) -> list[list[Spot | None]]:
    """Give exact spots at the joints (some missing, some more) in any order, picture by picture."""
    state, result = DotsState(), []
    for n in range(n_frames):
        frame = frame_at(n)
        gone = (missing or {}).get(n, set())
        spots = [disc(*place) for dot, place in enumerate(places(frame)) if dot not in gone]
        state, expected = dots.expect(state, frame, Side.RIGHT)
        order = np.random.default_rng(n).permutation(len(spots))
        shuffled = [*extra, *(spots[i] for i in order)]
        state, found = dots.take_in(state, frame.t_ns, expected, shuffled)
        result.append(found)
    return result


def test_every_dot_keeps_its_joint_through_whole_turns() -> None:
    for n, found in enumerate(follow(60)):
        for spot, place in zip(found, places(frame_at(n)), strict=True):
            assert spot is not None
            assert (spot.x_px, spot.y_px) == pytest.approx(tuple(place))


def test_a_dot_that_is_gone_is_not_invented_and_no_other_takes_its_place() -> None:
    found = follow(60, {n: {KNEE_DOT} for n in range(20, 30)})
    assert all((found[n][KNEE_DOT] is None) == (20 <= n < 30) for n in range(60))
    others = [row[dot] for row in found for dot in range(dots.N_DOTS) if dot != KNEE_DOT]
    assert None not in others


def test_a_spot_elsewhere_or_of_another_size_is_no_dot() -> None:
    far, large = disc(30.0, 30.0), disc(*places(frame_at(0))[KNEE_DOT] + 12.0, radius=9.0)
    for n, found in enumerate(follow(30, extra=(far, large))):
        assert far not in found
        assert large not in found, n


def test_the_frame_carries_dots_in_the_near_rows_and_the_model_s_points_elsewhere() -> None:
    frame = frame_at(0)
    found = [disc(100.03 + dot, 50.0) for dot in range(dots.N_DOTS)]
    dotted = dots.with_dots(frame, Side.RIGHT, [*found[:-1], None])
    # Stored in sixteenths of a pixel.
    assert dotted.points_px[ROWS[0]] == pytest.approx((100.0, 50.0))
    assert dotted.visibility[ROWS].tolist() == [1.0, 1.0, 1.0, 1.0, 0.0]
    toe = LANDMARKS[Side.RIGHT][TOE]
    assert np.isnan(dotted.points_px[toe]).all()
    assert dotted.presence[toe] == 0.0
    far_hip = LANDMARKS[Side.LEFT][HIP]
    assert np.array_equal(dotted.points_px[far_hip], frame.points_px[far_hip])
