"""The last strokes' deviations over the crank circle."""

from __future__ import annotations

import numpy as np
import pytest
from linkage_rider import CHAIN, MM_PER_PX, Pose, ride

from posewatch.core.envelope import Target
from posewatch.core.records import Channel
from posewatch.ui import stroke_traces
from posewatch.ui.stroke_traces import STROKES_SHOWN, Traces, means_of, of_channel, traced


def ridden(target: Target, torso_deg: float, seconds: float = 12.0) -> Traces:
    frames = ride(seconds, lambda t_s, deg: Pose(deg, torso_deg=torso_deg), seed=3)
    return list(traced(frames, CHAIN, None, target))[-1]


def test_the_last_ten_strokes_are_kept_with_their_means(ridden_target: Target) -> None:
    traces = ridden(ridden_target, torso_deg=44.5)
    assert len(traces.strokes) == STROKES_SHOWN
    # 12 s at 90 rpm are 18 turns; a circle is known from the start, the first top is not.
    assert 16 <= traces.n <= 18
    # The target's torso is at 42 degrees.
    assert means_of(traces, Channel.TORSO) == pytest.approx([2.5] * STROKES_SHOWN, abs=0.4)
    assert means_of(traces, Channel.SITTING_PLACE) == pytest.approx([0.0] * STROKES_SHOWN, abs=2.5)
    assert min(means_of(traces, Channel.HAND_PLACE)) >= 0.0


def test_a_stroke_goes_once_round_the_crank_circle(ridden_target: Target) -> None:
    traces = ridden(ridden_target, torso_deg=44.5)
    for (parts,) in ([p] for p in of_channel(traces, Channel.TORSO)):
        ((crank_deg, away),) = parts
        assert crank_deg[0] < 25.0
        assert crank_deg[-1] > 335.0
        assert np.all(np.diff(crank_deg) > 0)
        assert crank_deg.min() > -1.0
        assert crank_deg.max() < 361.0
        assert away.mean() == pytest.approx(2.5, abs=0.5)
    assert all(len(parts) == 2 for parts in of_channel(traces, Channel.HAND_PLACE))


def test_places_are_in_nominal_mm(ridden_target: Target) -> None:
    frames = ride(8.0, lambda t_s, deg: Pose(deg, wrist_m=(0.03, 0.0)), seed=3)
    traces = list(traced(frames, CHAIN, None, ridden_target))[-1]
    thigh_mm = ridden_target.segments.thigh * MM_PER_PX
    ((_, forward), (_, up)) = of_channel(traces, Channel.HAND_PLACE)[-1]
    assert forward.mean() == pytest.approx(30.0 * 430.0 / thigh_mm, abs=2.0)
    assert up.mean() == pytest.approx(0.0, abs=2.0)
    assert means_of(traces, Channel.HAND_PLACE)[-1] == pytest.approx(29.2, abs=2.0)


def test_a_moment_that_was_seen_already_changes_nothing(ridden_target: Target) -> None:
    from posewatch.core import tracking

    state = tracking.with_target(tracking.start(CHAIN, None), ridden_target)
    traces = stroke_traces.start(ridden_target)
    for frame in ride(3.0):
        state, tracked = tracking.step(state, frame)
        traces = stroke_traces.step(traces, tracked)
        assert stroke_traces.step(traces, tracked) is traces
    assert traces.n >= 2


def test_what_is_not_believed_is_a_gap_and_its_mean_is_not_known(ridden_target: Target) -> None:
    frames = ride(6.0, lambda t_s, deg: Pose(deg, hidden=("shoulder",) if t_s > 3.0 else ()))
    traces = list(traced(frames, CHAIN, None, ridden_target))[-1]
    means = means_of(traces, Channel.TORSO)
    assert np.isnan(means[-1])
    assert not np.isnan(means[0])


def test_a_crank_that_stands_keeps_no_pictures_for_ever(ridden_target: Target) -> None:
    frames = ride(20.0, lambda t_s, deg: Pose(min(deg, 1000.0)))
    traces = list(traced(frames, CHAIN, None, ridden_target))[-1]
    assert traces.n >= 1
    assert len(traces._samples) <= 3.0 * 30 + 1
