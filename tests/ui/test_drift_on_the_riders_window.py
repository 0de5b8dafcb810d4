"""The rider's window on the drift clip: the right correction, soon enough, once, and no other."""

from __future__ import annotations

from itertools import groupby

import pytest
from made_scenes import scene

from posewatch.bench.rides import (
    PLAN,
    record,
    run_exact,
    truth_of,
    yardstick,
)
from posewatch.bench.truth import exact_tracking
from posewatch.core import pipeline
from posewatch.core.cues import ON_AFTER_NS
from posewatch.core.judge import Task
from posewatch.core.outputs import CueChanged, StrokeJudged
from posewatch.core.standing import standing
from posewatch.demo import REFERENCES
from posewatch.runtime.engine import Shown
from posewatch.ui.rider_view import RiderMemory, rider_view

#: What the clip's page says: when the torso sinks and comes back, and when the hip slides.
SINKS_S, SLIDES_S = (8.6, 16.1), (23.4, 29.4)


@pytest.fixture(scope="module")
def corrections() -> list[tuple[str, float, float]]:
    """Words, first and last second of each correction in a row that the window showed."""
    reference, drift = (
        record(c, None, lambda *_: None) for c in ("hoods_reference", "hoods_drift")
    )
    target = yardstick(REFERENCES[0], reference).target
    task = Task(target, PLAN)
    state = pipeline.start(task, drift.chain, drift.plane)
    memory, shown = RiderMemory(), []
    for frame in drift.frames:
        state, _ = pipeline.step(task, state, frame)
        now = standing(task, state, frame.t_ns)
        moment = Shown(frame.t_ns, None, 0, frame.points_px[:0], state.last, now)
        told = scene(monotonic_ns=frame.t_ns, shown=moment, target=target, plan=PLAN)
        memory, view = rider_view(told, memory)
        shown.append(("" if view.face.way is None else view.face.words, frame.t_ns / 1e9))
    runs = [(words, [t for _, t in run]) for words, run in groupby(shown, key=lambda one: one[0])]
    return [(words, times[0], times[-1]) for words, times in runs if words]


def test_each_departure_is_corrected_once_and_nothing_else_is(
    corrections: list[tuple[str, float, float]],
) -> None:
    assert [words for words, _, _ in corrections] == ["taller, straighten arms", "sit back"]
    for (_, first_s, last_s), (begin_s, end_s) in zip(
        corrections, (SINKS_S, SLIDES_S), strict=True
    ):
        assert begin_s < first_s < last_s < end_s + 1.5


def test_it_comes_within_two_strokes_of_the_truth_leaving_its_band(
    corrections: list[tuple[str, float, float]],
) -> None:
    reference, drift = (
        record(c, None, lambda *_: None) for c in ("hoods_reference", "hoods_drift")
    )
    yard = yardstick(REFERENCES[0], reference)
    truth = truth_of("hoods_drift", yard.side)
    exact = run_exact(exact_tracking(truth, drift.plane), yard.exact)
    left_s = [
        (o.t_ns - ON_AFTER_NS) / 1e9
        for o in exact.outputs
        if isinstance(o, CueChanged) and o.channel is not None
    ]
    stroke_s = [(o.end_ns - o.start_ns) / 1e9 for o in exact.outputs if isinstance(o, StrokeJudged)]
    assert len(left_s) == len(corrections)
    for (_, first_s, _), out_s in zip(corrections, left_s, strict=True):
        assert abs(first_s - out_s) <= 2 * max(stroke_s)
