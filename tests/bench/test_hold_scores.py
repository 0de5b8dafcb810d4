"""A hold on measured values beside the same hold on exact ones."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from posewatch.bench.hold_scores import HoldScore, score_hold
from posewatch.core.cues import ON_AFTER_NS
from posewatch.core.outputs import (
    CueChanged,
    HoldGained,
    HoldLost,
    Output,
    Phase,
    Reason,
    StrokeJudged,
)
from posewatch.core.records import Channel, Verdict

SECOND = 1_000_000_000


def strokes(verdicts: str) -> list[Output]:
    """One stroke a second: g good and counted, s good while steadying, o out, x out but counted."""
    return [
        StrokeJudged(
            n * SECOND,
            (n + 1) * SECOND,
            Verdict.OUT if kind in "ox" else Verdict.GOOD,
            kind in "gx",
            Phase.IN_POSITION if kind in "gx" else Phase.STEADYING,
            (),
            None,
        )
        for n, kind in enumerate(verdicts)
    ]


def gained(at_s: float) -> Output:
    return HoldGained(round(at_s * SECOND))


def lost(at_s: float) -> Output:
    return HoldLost(round(at_s * SECOND), Reason.DRIFT)


def cue(at_s: float, channel: Channel | None = Channel.TORSO) -> Output:
    return CueChanged(round(at_s * SECOND), channel, "")


#: One thing that happened, twice looked at; with the start that makes two events.
EVENTS = ("", "torso sinks", "torso sinks", "")


def score(measured: list[Output], exact: list[Output]) -> HoldScore:
    return score_hold(measured, exact, EVENTS)


EXACT = [*strokes("sssssggggggoooo"), gained(5), lost(14)]


def test_equal_holds_are_within_limits() -> None:
    equal = score(EXACT, EXACT)
    assert equal == HoldScore(6, 6, 15, 2, 0, 0.0, 1.0, 0, ())
    assert equal.is_within_limits


def test_no_hold_at_all() -> None:
    nothing = score([], [])
    assert (nothing.n_counted, nothing.n_strokes_exact, nothing.worst_boundary_s) == (0, 0, 0.0)
    assert nothing.is_within_limits


@pytest.mark.parametrize(
    ("events", "n_events"),
    [
        ((), 1),
        (("", "", ""), 1),
        (("sinks", "sinks", "", "slides"), 3),
        (("sinks", "slides", "slides", "", "slides"), 4),
    ],
)
def test_events_are_the_start_and_what_happened(events: tuple[str, ...], n_events: int) -> None:
    assert score_hold(EXACT, EXACT, events).n_events == n_events


@pytest.mark.parametrize(
    ("measured", "within"),
    [
        ([*strokes("sssssggggggoooo"), gained(5.9), lost(13.1)], True),
        ([*strokes("sssssggggggoooo"), gained(5), lost(15.1)], False),
        ([*strokes("sssssggggggoooo"), gained(5)], False),
        ([*strokes("sssssggssssoooo"), gained(5), lost(14)], True),
        ([*strokes("sssssgsssssoooo"), gained(5), lost(14)], False),
    ],
    ids=["near", "late", "boundary missing", "4 strokes fewer, 2 events", "5 strokes fewer"],
)
def test_boundaries_and_counts_have_limits(measured: list[Output], within: bool) -> None:
    assert score(measured, EXACT).is_within_limits is within


def test_the_worst_boundary() -> None:
    measured = [*strokes("s"), gained(5.25), lost(13.5)]
    assert score(measured, EXACT).worst_boundary_s == pytest.approx(0.5)
    assert math.isinf(score([gained(5), gained(8), lost(14)], EXACT).worst_boundary_s)


def test_a_stroke_counted_while_the_rider_was_out_is_false() -> None:
    at_the_edge = score([*strokes("sssssggggggxooo"), gained(5), lost(14)], EXACT)
    assert at_the_edge.n_false == 0
    inside = score([*strokes("sssssggggggoxoo"), gained(5), lost(14)], EXACT)
    assert inside.n_false == 1
    assert not inside.is_within_limits
    assert score(strokes("g"), []).n_false == 1, "nobody was there"


def test_cue_delays_are_in_strokes_from_the_value_passing() -> None:
    on_after_s = ON_AFTER_NS / SECOND
    exact = [*EXACT, cue(12.0), cue(13.0, None)]
    measured = [*EXACT, cue(13.5), cue(11.9, Channel.KNEE), cue(14.0, None)]
    delayed = score(measured, exact)
    assert delayed.cue_delays_strokes == pytest.approx((1.5 + on_after_s,))
    assert delayed.n_cues == 2
    half = [
        replace(o, end_ns=o.end_ns - SECOND // 2) if isinstance(o, StrokeJudged) else o
        for o in exact
    ]
    assert score(measured, half).cue_delays_strokes == pytest.approx((2 * (1.5 + on_after_s),))
    never = score([*EXACT, cue(12.0, Channel.KNEE)], exact)
    assert math.isinf(never.cue_delays_strokes[0])
