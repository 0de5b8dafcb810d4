"""The stored form of landmarks."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from posewatch.core.landmark_codec import (
    LEVELS,
    NOT_SEEN,
    STEPS_PER_PX,
    StoredLandmarks,
    decode,
    encode,
    nobody,
)
from posewatch.core.records import N_LANDMARKS

in_reach_px = st.floats(-2047, 2047) | st.just(np.nan)
points = arrays(np.float64, (N_LANDMARKS, 2), elements=in_reach_px)
shares = arrays(np.float64, N_LANDMARKS, elements=st.floats(0, 1))
stored_landmarks = st.builds(
    StoredLandmarks,
    arrays(np.int16, (N_LANDMARKS, 2)),
    arrays(np.uint8, N_LANDMARKS),
    arrays(np.uint8, N_LANDMARKS),
)


def same(one: StoredLandmarks, other: StoredLandmarks) -> bool:
    return all(
        np.array_equal(getattr(one, name), getattr(other, name))
        and getattr(one, name).dtype == getattr(other, name).dtype
        for name in ("points", "visibility", "presence")
    )


@given(points, shares, shares)
def test_rounding_is_at_most_half_a_step(points_px, visibility, presence):
    frame = decode(5, encode(points_px, visibility, presence))
    assert frame.t_ns == 5
    np.testing.assert_allclose(frame.points_px, points_px, atol=0.5 / STEPS_PER_PX, rtol=0)
    for kept, given_share in ((frame.visibility, visibility), (frame.presence, presence)):
        np.testing.assert_allclose(kept, given_share, atol=0.5 / LEVELS + 1e-12, rtol=0)


@given(stored_landmarks)
def test_what_was_stored_comes_back_when_stored_again(stored):
    frame = decode(0, stored)
    assert same(encode(frame.points_px, frame.visibility, frame.presence), stored)


@given(arrays(np.float64, (N_LANDMARKS, 2), elements=st.floats(-1e9, 1e9)))
def test_points_out_of_reach_are_clipped_and_never_taken_for_nobody(points_px):
    stored = encode(points_px, np.ones(N_LANDMARKS), np.ones(N_LANDMARKS))
    assert not np.any(stored.points == NOT_SEEN)
    kept = decode(0, stored).points_px
    inside = np.abs(points_px) <= 2047
    assert np.all(np.abs(kept - points_px)[inside] <= 0.5 / STEPS_PER_PX)
    assert np.all(np.abs(kept[~inside]) >= 2047)
    assert np.all(np.sign(kept[~inside]) == np.sign(points_px[~inside]))


def test_nobody_is_no_point_and_no_confidence():
    frame = decode(7, nobody())
    assert np.all(np.isnan(frame.points_px))
    assert not frame.visibility.any()
    assert not frame.presence.any()


def test_decoding_leaves_the_stored_values_alone():
    stored = nobody()
    decode(0, stored).points_px[:] = 1.0
    assert same(stored, nobody())
