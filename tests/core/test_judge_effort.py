"""Effort in the judgement: waiting for it, doing without it, and what a late packet may not do."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable

import pytest
from exact_rider import JudgeInput, off, pedal, reasons, take, task, watch

from posewatch.core.gross_events import Change
from posewatch.core.judge import JudgeState
from posewatch.core.outputs import CueChanged, HoldLost, Output, Reason, StrokeJudged
from posewatch.core.records import Channel, Effort, Tick, Verdict
from posewatch.core.timebase import to_ns
from posewatch.core.watch_plan import WatchPlan

POWER = WatchPlan(power_w=200.0)
CADENCE = WatchPlan(cadence_rpm=90.0)
BOTH = WatchPlan(power_w=200.0, cadence_rpm=90.0)


def packets(
    seconds: float,
    power_at: Callable[[float], float] = lambda t_s: 200.0,
    cadence_rpm: float = 90.0,
    every_s: float = 1.0,
    delay_s: float = 0.05,
) -> list[Effort]:
    times = [delay_s + k * every_s for k in range(math.ceil((seconds - delay_s) / every_s))]
    return [Effort(to_ns(t), power_at(t), cadence_rpm) for t in times]


def in_order(*sources: Iterable[JudgeInput]) -> list[JudgeInput]:
    return sorted((new for source in sources for new in source), key=lambda new: new.t_ns)


def strokes(outputs: Iterable[Output]) -> list[StrokeJudged]:
    return [o for o in outputs if isinstance(o, StrokeJudged)]


def test_power_in_its_band_counts() -> None:
    state, outputs = watch(task(POWER), in_order(pedal(16.0), packets(16.0)))
    assert reasons(outputs) == []
    # 23 tops pass, the first begins a stroke, five steady; the last one waits for its packet.
    assert 15 <= state.tally.n_strokes <= 17


def test_power_off_its_band_counts_nothing() -> None:
    low = packets(12.0, lambda t_s: 180.0)
    state, outputs = watch(task(POWER), in_order(pedal(12.0), low))
    assert state.tally.n_strokes == 0
    assert {s.verdict for s in strokes(outputs)[1:]} == {Verdict.OUT}


def test_a_stroke_waits_for_its_packet() -> None:
    judged_at: dict[int, int] = {}
    state = JudgeState()
    for new in in_order(pedal(12.0), packets(12.0)):
        state, outputs = take(task(POWER), state, new)
        judged_at |= {s.end_ns: new.t_ns for s in strokes(outputs)}
    assert len(judged_at) > 10
    for end_ns, now_ns in judged_at.items():
        packet_s = math.ceil((end_ns / 1e9 - 0.05) - 1e-6) + 0.05
        assert now_ns == pytest.approx(to_ns(packet_s), abs=to_ns(0.04))


def test_without_packets_strokes_are_unknown_after_two_seconds_and_never_count() -> None:
    state, outputs = JudgeState(), list[Output]()
    late_s = []
    for new in pedal(12.0):
        state, found = take(task(POWER), state, new)
        late_s += [(new.t_ns - s.end_ns) / 1e9 for s in strokes(found)]
        outputs += found
    assert state.tally.n_strokes == 0
    assert {(s.verdict, s.reason) for s in strokes(outputs)} == {
        (Verdict.UNKNOWN, Reason.NO_EFFORT)
    }
    assert all(2.0 <= late <= 2.05 for late in late_s)


def test_packets_that_stop_lose_the_hold() -> None:
    _, outputs = watch(task(POWER), in_order(pedal(14.0), packets(8.0)))
    (loss,) = (o for o in outputs if isinstance(o, HoldLost))
    assert loss.reason is Reason.UNKNOWN
    assert all(s.end_ns < to_ns(8.1) for s in strokes(outputs) if s.counted)


def test_a_late_packet_never_reopens_a_stroke() -> None:
    on_time = [p for p in packets(14.0) if not to_ns(6.0) < p.t_ns < to_ns(9.5)]
    _, outputs = watch(task(POWER), in_order(pedal(14.0), on_time))
    ends = [s.end_ns for s in strokes(outputs)]
    assert len(ends) == len(set(ends))
    assert ends == sorted(ends)
    unknown = [s for s in strokes(outputs) if s.verdict is Verdict.UNKNOWN]
    assert unknown
    assert all(not s.counted for s in unknown)
    # Judged unknown are just those of the silence, from 5.05 s to 10.05 s: the packet that ends it
    # tells nothing of what was before.
    silent = [s for s in strokes(outputs) if s.start_ns < to_ns(10.05) and s.end_ns > to_ns(5.05)]
    assert unknown == silent


@pytest.mark.parametrize("tick_s", [None, 8.3, 8.8])
def test_a_packet_later_than_two_seconds_is_late_whoever_looked_meanwhile(
    tick_s: float | None,
) -> None:
    moments = [m for m in pedal(9.0) if m.t_ns <= to_ns(6.0)]
    ticks = [] if tick_s is None else [Tick(to_ns(tick_s))]
    on_time = [p for p in packets(6.0) if p.t_ns < to_ns(5.5)]
    inputs = in_order(moments, on_time, ticks, [Effort(to_ns(8.9), 200.0, 90.0)])
    _, outputs = watch(task(POWER), inputs)
    last = [s for s in strokes(outputs) if s.end_ns > to_ns(5.1)]
    assert last
    assert {s.verdict for s in last} == {Verdict.UNKNOWN}


def test_a_low_patch_of_power_is_judged_over_its_window() -> None:
    # Half a second at 120 W within a window of over 3 s is 13 W at most: within the 14 W limit.
    def power(t_s: float) -> float:
        return 120.0 if 8.0 <= t_s < 8.5 else 200.0

    inputs = in_order(pedal(14.0), packets(14.0, power, every_s=0.25))
    _, outputs = watch(task(POWER), inputs)
    assert reasons(outputs) == []
    assert {s.verdict for s in strokes(outputs)[5:]} == {Verdict.GOOD}


def test_power_off_for_long_loses_the_hold_by_effort() -> None:
    def power(t_s: float) -> float:
        return 200.0 if t_s < 6.0 else 170.0

    _, outputs = watch(task(POWER), in_order(pedal(14.0), packets(14.0, power)))
    (loss,) = (o for o in outputs if isinstance(o, HoldLost))
    assert (loss.reason, loss.channel) == (Reason.EFFORT, Channel.POWER)
    assert loss.direction == "push harder"
    words = [o.direction for o in outputs if isinstance(o, CueChanged)]
    assert words == ["push harder"]


def test_a_trainer_that_holds_the_power_leaves_the_rider_uncued_but_judged() -> None:
    def power(t_s: float) -> float:
        return 200.0 if t_s < 6.0 else 170.0

    plan = WatchPlan(power_w=200.0, cadence_rpm=90.0, trainer_holds_power=True)
    _, outputs = watch(task(plan), in_order(pedal(14.0), packets(14.0, power)))
    assert not [o for o in outputs if isinstance(o, CueChanged)]
    assert [o.channel for o in outputs if isinstance(o, HoldLost)] == [Channel.POWER]


def test_a_trainer_that_holds_the_power_still_leaves_the_cadence_to_the_rider() -> None:
    plan = WatchPlan(power_w=200.0, cadence_rpm=80.0, trainer_holds_power=True)
    low = packets(14.0, lambda t_s: 100.0)
    _, outputs = watch(task(plan), in_order(pedal(14.0), low))
    assert [o.direction for o in outputs if isinstance(o, CueChanged)] == ["spin slower"]


# --- cadence ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rpm", "counts"), [(87.0, True), (93.5, True), (85.0, False), (95.0, False)]
)
def test_cadence_without_a_sensor_is_that_of_the_strokes(rpm: float, counts: bool) -> None:
    state, _ = watch(task(CADENCE), pedal(11.0, rpm=rpm))
    assert (state.tally.n_strokes > 0) == counts


def test_cadence_from_a_sensor_counts_without_a_planned_power() -> None:
    inputs = in_order(pedal(14.0), packets(14.0, lambda _: math.nan))
    state, outputs = watch(task(CADENCE), inputs)
    assert reasons(outputs) == []
    assert state.tally.n_strokes >= 12


def test_a_sensor_that_gives_no_cadence_leaves_it_to_the_strokes() -> None:
    inputs = in_order(pedal(14.0), packets(14.0, cadence_rpm=math.nan))
    state, outputs = watch(task(BOTH), inputs)
    assert reasons(outputs) == []
    assert state.tally.n_strokes >= 12


def test_a_sensor_s_cadence_goes_before_the_strokes_own() -> None:
    inputs = in_order(pedal(12.0), packets(12.0, cadence_rpm=80.0))
    state, _ = watch(task(BOTH), inputs)
    assert state.tally.n_strokes == 0


def test_the_cadence_of_a_stroke_that_waits_is_its_own() -> None:
    # The crank goes over from 90 to 100 rpm at 8 s; packets come seldom, so strokes wait, but the
    # five strokes up to one that ended before the change are all at 90.
    slow = list(pedal(8.0))
    fast = list(pedal(6.0, rpm=100.0, start_s=8.0, start_turns=12.0))
    inputs = in_order(slow, fast, packets(14.0, cadence_rpm=math.nan, every_s=1.9, delay_s=1.8))
    _, outputs = watch(task(BOTH), inputs)
    for stroke in strokes(outputs):
        if to_ns(5.0) < stroke.end_ns <= to_ns(8.0):
            cadence = next(v for v in stroke.channels if v.channel is Channel.CADENCE)
            assert cadence.deviation == pytest.approx(0.0, abs=0.01)


def test_effort_does_not_hide_a_position_that_is_out() -> None:
    inputs = in_order(pedal(11.0, lambda *_: off(0, 4.0)), packets(11.0))
    state, outputs = watch(task(POWER), inputs)
    assert state.tally.n_strokes == 0
    assert Verdict.GOOD not in {s.verdict for s in strokes(outputs)}


def test_a_stroke_that_still_waits_when_the_operator_pauses_is_judged_all_the_same() -> None:
    pause = [Change(to_ns(6.1), Reason.PAUSED, True), Change(to_ns(7.0), Reason.PAUSED, False)]
    _, outputs = watch(task(BOTH), in_order(pedal(10.0), pause))
    ends = [s.end_ns for s in strokes(outputs)]
    assert ends == sorted(set(ends))
    assert any(to_ns(4.1) < end < to_ns(6.1) for end in ends)
    assert not any(s.counted for s in strokes(outputs))
