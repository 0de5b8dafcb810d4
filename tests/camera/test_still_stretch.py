"""The mean of the stillest two seconds, and what scatters there."""

from __future__ import annotations

import numpy as np
import pytest

from posewatch.camera.still_stretch import SINGLE_SD_PX, StillStretch, stillest
from posewatch.core.records import FloatArray

CORNERS = np.array(((10.0, 20.0), (30.0, 20.0), (10.0, 40.0), (30.0, 40.0)))


def held(moves: FloatArray, noise: float = 0.0, seed: int = 1) -> StillStretch:
    """A board of four corners that is at ``moves`` (n, 2) from picture to picture."""
    random = np.random.default_rng(seed)
    points = [CORNERS + move + random.normal(0, noise, CORNERS.shape) for move in moves]
    found = stillest([np.arange(4)] * len(points), points)
    assert found is not None
    return found


def test_one_picture_is_taken_as_it_is() -> None:
    one = held(np.zeros((1, 2)))
    assert one.corners_px == pytest.approx(CORNERS)
    assert (one.n_frames, one.scatter_px, one.corner_sd_px) == (1, 0.0, SINGLE_SD_PX)


def test_the_stretch_after_the_hand_came_to_rest_is_used() -> None:
    coming = np.linspace((-40.0, 5.0), (0.0, 0.0), 50)
    moves = np.vstack((coming, np.zeros((70, 2)), coming[::-1]))
    still = held(moves, noise=0.05)
    assert 49 <= still.first <= 61
    assert still.n_frames == 60
    assert still.corners_px == pytest.approx(CORNERS, abs=0.05)
    assert still.scatter_px < 0.1


def test_noise_of_corners_and_movement_of_the_board_are_told_apart() -> None:
    random = np.random.default_rng(4)
    still = held(random.normal(0, 2.0, (60, 2)), noise=0.3)
    assert still.scatter_px == pytest.approx(2.0, rel=0.25)
    # Three quarters of the variance are left once four corners' own mean is taken away.
    assert still.corner_sd_px == pytest.approx(0.3 * 0.75**0.5 / 60**0.5, rel=0.15)


def test_a_corner_that_is_often_hidden_is_left_out() -> None:
    ids = [np.arange(4) if k % 2 else np.arange(3) for k in range(20)]
    found = stillest(ids, [CORNERS[one] for one in ids])
    assert found is not None
    assert found.corner_ids.tolist() == [0, 1, 2]
    assert found.n_frames == 20


def test_a_picture_that_lacks_a_kept_corner_shifts_nothing() -> None:
    ids = [np.arange(4)] * 19 + [np.array([0, 1])]
    points = [CORNERS] * 19 + [CORNERS[:2] + 50.0]
    found = stillest(ids, points)
    assert found is not None
    assert found.n_frames == 19
    assert found.corners_px == pytest.approx(CORNERS)


def test_without_a_corner_there_is_no_mean() -> None:
    assert stillest([], []) is None
    assert stillest([np.array([], int)], [np.empty((0, 2))]) is None
