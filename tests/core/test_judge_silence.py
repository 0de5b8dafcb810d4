"""What a sensor that stalls costs: the judge against a plain calculation of the same rules.

The calculation knows strokes as pairs of seconds and packets as seconds, and shares nothing with
the program: a stall is from the last packet on; a stroke that has a part in it is unknown; a second
unknown stroke in a row, or one of a second or more, loses the hold; five good ones make it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from itertools import pairwise

import pytest
from exact_rider import JudgeInput, pedal, reasons, task, watch
from hypothesis import given, settings
from hypothesis import strategies as st
from linkage_rider import CHAIN

from posewatch.core import pipeline
from posewatch.core.envelope import Target
from posewatch.core.judge import Task
from posewatch.core.outputs import Output, Reason, StrokeJudged
from posewatch.core.records import Channel, Effort, Frame, Input, Tick, Verdict
from posewatch.core.timebase import to_ns
from posewatch.core.watch_plan import WatchPlan

NAN = math.nan
POWER = WatchPlan(power_w=200.0)
Span = tuple[float, float]
Gap = tuple[float, float]

SOME = settings(max_examples=8, derandomize=True, deadline=None)


# --- the plain calculation -----------------------------------------------------------------------


def stalls(packets_s: Sequence[float], usual_s: float) -> list[Span]:
    limit_s = max(1.5, 3 * usual_s)
    return [(a, b) for a, b in pairwise(packets_s) if b - a > limit_s + 1e-9]


def counted_plainly(
    strokes: Sequence[Span], stalled: Sequence[Span], bad: Iterable[Span] = ()
) -> list[Span]:
    """Return the strokes that count; bad ones are unknown whatever the sensor does."""
    counted = []
    good_in_a_row, holds, last_unknown = 0, False, False
    bad = set(bad)
    for start_s, end_s in strokes:
        unknown = (start_s, end_s) in bad or any(
            start_s < ends and end_s > begins for begins, ends in stalled
        )
        if not holds:
            good_in_a_row = 0 if unknown else good_in_a_row + 1
            holds, last_unknown = good_in_a_row == 5, False
        elif not unknown:
            counted.append((start_s, end_s))
            last_unknown = False
        elif last_unknown or end_s - start_s >= 1.0:
            holds, good_in_a_row = False, 0
        else:
            last_unknown = True
    return counted


def sent(
    seconds: float, every_s: float, gaps: Sequence[Gap] = (), delay_s: float = 0.05
) -> list[float]:
    """Return when packets come: at an even pace but for the gaps (begin, length) in it."""
    times = [delay_s + k * every_s for k in range(round(seconds / every_s))]
    return [t for t in times if not any(a < t < a + length for a, length in gaps)]


def ridden(seconds: float, rpm: float) -> list[Span]:
    """Return the strokes of an even ride, top to top; the first top passes with the first turn."""
    period_s = 60.0 / rpm
    n_turns = math.floor(((seconds * 30 - 1) / 30) / period_s + 1e-6)
    return [(k * period_s, (k + 1) * period_s) for k in range(1, n_turns)]


# --- exact rides ---------------------------------------------------------------------------------


def judged(
    seconds: float, rpm: float, packets_s: Iterable[float], more: Iterable[JudgeInput] = ()
) -> list[Output]:
    inputs: list[JudgeInput] = [*pedal(seconds, rpm=rpm), *more]
    inputs += [Effort(to_ns(t), 200.0, NAN) for t in packets_s]
    inputs.sort(key=lambda new: new.t_ns)
    # Packets go on after the last picture, so that no stroke is left waiting.
    return watch(task(POWER), inputs)[1]


def counted(outputs: Iterable[Output]) -> list[Span]:
    return [
        (o.start_ns / 1e9, o.end_ns / 1e9)
        for o in outputs
        if isinstance(o, StrokeJudged) and o.counted
    ]


def same(found: Sequence[Span], expected: Sequence[Span]) -> bool:
    return len(found) == len(expected) and all(
        a == pytest.approx(b, abs=1e-6) for a, b in zip(found, expected, strict=True)
    )


def test_a_stall_of_five_seconds_costs_thirteen_strokes_at_90_rpm() -> None:
    # Last packet at 10.3 s, next at 15.3 s. Strokes take 2/3 s: those from 10.0 to 15.33 s have a
    # part in the stall, 8 of them, and five more steady the hold anew.
    packets_s = sent(27.0, 0.25, [(10.31, 4.98)])
    assert max(b - a for a, b in pairwise(packets_s)) == pytest.approx(5.0)
    found = counted(judged(24.0, 90.0, packets_s))
    whole = counted(judged(24.0, 90.0, sent(27.0, 0.25)))
    lost = [s for s in whole if s not in found]
    assert len(lost) == 8 + 5
    assert (lost[0][0], lost[-1][1]) == pytest.approx((10.0, 15.333 + 5 * 0.6667), abs=0.001)
    assert set(found) < set(whole)


@pytest.mark.parametrize("every_s", [0.25, 1.0])
def test_a_gap_of_one_second_costs_nothing(every_s: float) -> None:
    # At one packet a second, one is lost: two seconds without.
    packets_s = sent(27.0, every_s, [(10.06, 0.99 if every_s < 1.0 else 1.0)])
    longest_s = max(b - a for a, b in pairwise(packets_s))
    assert longest_s == pytest.approx(1.0 if every_s < 1.0 else 2.0)
    outputs = judged(24.0, 90.0, packets_s)
    assert reasons(outputs) == []
    assert counted(outputs) == counted(judged(24.0, 90.0, sent(27.0, every_s)))


@pytest.mark.parametrize("rpm", [50.0, 58.0, 75.0, 110.0])
@pytest.mark.parametrize("stall_s", [1.2, 1.75, 5.0])
@pytest.mark.parametrize("phase_s", [0.0, 0.4])
def test_what_a_stall_costs(rpm: float, stall_s: float, phase_s: float) -> None:
    packets_s = sent(25.0, 0.25, [(9.06 + phase_s, stall_s)])
    expected = counted_plainly(ridden(22.0, rpm), stalls(packets_s, 0.25))
    assert same(counted(judged(22.0, rpm, packets_s)), expected)


@pytest.mark.parametrize("stall_s", [2.0, 3.0, 5.0])
def test_what_a_stall_of_a_sensor_of_one_packet_a_second_costs(stall_s: float) -> None:
    # Silent only after 3 s; but no stroke waits for longer than two.
    packets_s = sent(24.0, 1.0, [(8.06, stall_s)])
    begin_s, end_s = max(pairwise(packets_s), key=lambda pair: pair[1] - pair[0])
    strokes = ridden(21.0, 90.0)
    too_late = [s for s in strokes if begin_s < s[1] < end_s - 2.0]
    expected = counted_plainly(strokes, stalls(packets_s, 1.0), too_late)
    assert same(counted(judged(21.0, 90.0, packets_s)), expected)


def test_a_stall_is_told_as_missing_readings_at_the_latest_after_a_second_and_a_half() -> None:
    packets_s = [t for t in sent(20.0, 0.25) if t < 10.1]
    outputs = judged(13.0, 90.0, packets_s)
    unknown = [o for o in outputs if isinstance(o, StrokeJudged) and o.verdict is Verdict.UNKNOWN]
    assert {stroke.reason for stroke in unknown} == {Reason.NO_EFFORT}
    assert reasons(outputs) == [Reason.UNKNOWN]
    # Strokes that ended before 11.55 s had not been waiting for longer.
    early = judged(11.6, 90.0, packets_s)
    assert reasons(early) == [Reason.UNKNOWN]


gaps = st.lists(
    st.tuples(st.floats(5.0, 17.0), st.sampled_from((0.6, 1.2, 1.5, 1.9, 3.1, 6.0))), max_size=3
)


@SOME
@given(gaps, st.sampled_from((0.25, 0.5)), st.sampled_from((55.0, 90.0, 100.0)))
def test_any_stalls_cost_what_the_plain_rules_say(
    some: list[Gap], every_s: float, rpm: float
) -> None:
    packets_s = sent(23.0, every_s, some)
    found = counted(judged(20.0, rpm, packets_s))
    assert same(found, counted_plainly(ridden(20.0, rpm), stalls(packets_s, every_s)))
    assert set(found) <= set(counted(judged(20.0, rpm, sent(23.0, every_s))))


@SOME
@given(gaps, st.sampled_from((0.25, 1.0)), st.sampled_from((7.0, 40.0)))
def test_how_often_the_clock_ticks_changes_nothing(
    some: list[Gap], every_s: float, tick_hz: float
) -> None:
    packets_s = sent(23.0, every_s, some)
    ticks = [Tick(to_ns(k / tick_hz)) for k in range(round(20.0 * tick_hz))]
    plain = judged(20.0, 90.0, packets_s)
    assert repr(judged(20.0, 90.0, packets_s, ticks)) == repr(plain)


# --- two sensors ---------------------------------------------------------------------------------


def test_cadence_packets_do_not_make_power_arrive() -> None:
    # Power stalls for 5 s while another sensor goes on with the cadence.
    plan = WatchPlan(power_w=200.0, cadence_rpm=90.0)
    powers = [Effort(to_ns(t), 200.0, NAN) for t in sent(27.0, 0.25, [(10.31, 4.98)])]
    cadences = [Effort(to_ns(t + 0.11), NAN, 90.0) for t in sent(27.0, 0.25)]
    inputs: list[JudgeInput] = [*pedal(24.0), *powers, *cadences]
    inputs.sort(key=lambda new: new.t_ns)
    outputs = watch(task(plan), inputs)[1]
    expected = counted_plainly(ridden(24.0, 90.0), [(10.3, 15.3)])
    assert same(counted(outputs), expected)
    stalled = [
        {v.channel: v.reason for v in o.channels if v.verdict is Verdict.UNKNOWN}
        for o in outputs
        if isinstance(o, StrokeJudged) and o.verdict is Verdict.UNKNOWN
    ]
    assert stalled == [{Channel.POWER: Reason.NO_EFFORT}] * 8


def test_a_stroke_waits_for_both_quantities() -> None:
    plan = WatchPlan(power_w=200.0, cadence_rpm=90.0)
    powers = [Effort(to_ns(t), 200.0, NAN) for t in sent(20.0, 0.25)]
    cadences = [Effort(to_ns(t), NAN, 90.0) for t in sent(20.0, 1.0, delay_s=0.3)]
    inputs: list[JudgeInput] = [*pedal(18.0), *powers, *cadences]
    inputs.sort(key=lambda new: new.t_ns)
    outputs = watch(task(plan), inputs)[1]
    assert reasons(outputs) == []
    assert same(counted(outputs), counted_plainly(ridden(18.0, 90.0), []))


# --- a ride seen by the camera -------------------------------------------------------------------


def seen_ride(
    target: Target, frames: Sequence[Frame], packets_s: Iterable[float]
) -> list[StrokeJudged]:
    """Return the strokes of a ride that goes through the whole pipeline."""
    held = Task(target, POWER)
    inputs: list[Input] = [*frames, *(Effort(to_ns(t), 200.0, NAN) for t in packets_s)]
    inputs.sort(key=lambda new: new.t_ns)
    state, found = pipeline.start(held, CHAIN, None), list[StrokeJudged]()
    for new in inputs:
        state, outputs = pipeline.step(held, state, new)
        found += [o for o in outputs if isinstance(o, StrokeJudged)]
    return found


@pytest.mark.parametrize("stall_s", [1.0, 5.0])
def test_a_stall_on_a_ride_that_the_camera_sees(
    reference_ride: tuple[Frame, ...], linkage_target: Target, stall_s: float
) -> None:
    clean = seen_ride(linkage_target, reference_ride, sent(37.0, 0.25))
    packets_s = sent(37.0, 0.25, [(15.06, stall_s)])
    stalled = seen_ride(linkage_target, reference_ride, packets_s)
    spans = {s: (s.start_ns / 1e9, s.end_ns / 1e9) for s in clean}
    assert {s.verdict for s in clean} <= {Verdict.GOOD, Verdict.UNKNOWN}
    unknown = [spans[s] for s in clean if s.verdict is Verdict.UNKNOWN]
    assert len(unknown) <= 2  # while the crank's circle is found
    expected = counted_plainly(list(spans.values()), stalls(packets_s, 0.25), unknown)
    assert counted(stalled) == expected
    cost = len(counted(clean)) - len(expected)
    n_in_it = sum(
        a < ends and b > begins
        for a, b in spans.values()
        for begins, ends in stalls(packets_s, 0.25)
    )
    assert cost == (0 if stall_s < 1.5 else n_in_it + 5)
