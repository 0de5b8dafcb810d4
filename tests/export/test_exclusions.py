"""Why a stroke does not count, in words."""

from __future__ import annotations

from dataclasses import replace

import pytest

from posewatch.core.outputs import ChannelValue, Phase, Reason, StrokeJudged, ValidInterval
from posewatch.core.records import Channel, Verdict
from posewatch.export.exclusions import excluded, placed_strokes, why_discarded, why_not_counted
from posewatch.export.recorded import Recorded, read_watched

GOOD = StrokeJudged(0, 10, Verdict.GOOD, False, Phase.STEADYING, (), None)


def value(channel: Channel, verdict: Verdict, required: bool = True) -> ChannelValue:
    return ChannelValue(channel, 1.0, 0.1, verdict, required)


OUT = replace(
    GOOD,
    verdict=Verdict.OUT,
    channels=(
        value(Channel.TORSO, Verdict.OUT),
        value(Channel.KNEE, Verdict.GOOD),
        value(Channel.HIP, Verdict.OUT),
        value(Channel.PELVIS_HEIGHT, Verdict.OUT, required=False),
    ),
)


@pytest.mark.parametrize(
    ("stroke", "interval", "why"),
    [
        (GOOD, ValidInterval(0, 90, 9, True), ""),
        (GOOD, ValidInterval(0, 30, 3, False), "run of under 8 strokes"),
        (GOOD, None, "steadying"),
        (replace(GOOD, phase=Phase.IN_POSITION), None, "steadying"),
        (replace(GOOD, phase=Phase.SIT_IN), None, "sit-in"),
        (OUT, None, "out of band: torso and hip"),
        (
            replace(GOOD, verdict=Verdict.UNKNOWN, reason=Reason.HOLE),
            None,
            f"unknown: {Reason.HOLE}",
        ),
    ],
)
def test_why_a_stroke_does_not_count(
    stroke: StrokeJudged, interval: ValidInterval | None, why: str
) -> None:
    assert why_not_counted(stroke, interval) == why


def test_every_stroke_is_counted_or_says_why_not(uneven_watch: object) -> None:
    watched = read_watched(uneven_watch)  # type: ignore[arg-type]
    assert watched.ending is not None
    reasons = excluded(watched)
    assert sum(reasons.values()) == len(watched.strokes) - watched.ending.n_counted
    assert list(reasons.values()) == sorted(reasons.values(), reverse=True)
    in_runs = [place for _, _, place, _ in placed_strokes(watched) if place is not None]
    assert len(in_runs) == sum(one.n_strokes for one in watched.intervals)
    for number, interval in enumerate(watched.intervals, 1):
        assert in_runs.count(number) == interval.n_strokes


def test_why_a_trial_has_no_part(recorded: Recorded) -> None:
    first, again, _, counted, _ = recorded.trials
    assert why_discarded(first, rehearsal=False) == "familiarisation mounting"
    assert why_discarded(counted, rehearsal=False) == ""
    assert why_discarded(counted, rehearsal=True) == "rehearsal"
    assert first.run is not None
    moved = replace(counted, run=first.run)
    assert why_discarded(moved, rehearsal=False) == "ridden again: doorbell"
    assert again.run is not None
    assert again.run.repeated == ""
