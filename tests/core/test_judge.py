"""From exact deviations to what counts: the rules together, at the level of moments."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import pytest
from exact_rider import (
    HAND_UP,
    HEIGHT,
    HIP,
    KNEE,
    SITTING,
    TORSO,
    Away,
    JudgeInput,
    off,
    pedal,
    reasons,
    task,
    watch,
)

from posewatch.core.channels import N_COLUMNS
from posewatch.core.cues import RESTLESS_WORDS
from posewatch.core.gross_events import Change
from posewatch.core.judge import Observation
from posewatch.core.outputs import (
    BriefDrift,
    CueChanged,
    HoldGained,
    HoldLost,
    Output,
    Reason,
    StrokeJudged,
    ValidInterval,
)
from posewatch.core.records import Channel, FloatArray, Tick, Verdict
from posewatch.core.timebase import to_ns
from posewatch.core.watch_plan import WatchPlan

FITTED = np.zeros(N_COLUMNS)
SHORT_SIT_IN = WatchPlan(sit_in_s=2.0)


def counted(outputs: list[Output]) -> list[StrokeJudged]:
    return [o for o in outputs if isinstance(o, StrokeJudged) and o.counted]


def lost(outputs: list[Output]) -> list[HoldLost]:
    return [o for o in outputs if isinstance(o, HoldLost)]


def cues(outputs: list[Output]) -> list[CueChanged]:
    return [o for o in outputs if isinstance(o, CueChanged)]


def during(value: FloatArray | None, begin_s: float, end_s: float) -> Away:
    """Deviate for a while, else sit as fitted."""
    return lambda t_s, _: value if begin_s <= t_s < end_s else FITTED


def test_a_rider_in_position_counts_from_the_sixth_stroke() -> None:
    state, outputs = watch(task(), pedal(20.1))
    # 30 turns; the first top starts the first stroke after it, and five strokes steady the hold.
    gained = next(o for o in outputs if isinstance(o, HoldGained))
    assert state.tally.n_strokes == len(counted(outputs)) == 24
    (interval,) = (o for o in outputs if isinstance(o, ValidInterval))
    assert interval.start_ns == gained.t_ns
    assert interval == ValidInterval(interval.start_ns, interval.end_ns, 24, True)
    assert state.tally.total_ns == interval.end_ns - interval.start_ns
    assert not cues(outputs)
    assert not lost(outputs)


@pytest.mark.parametrize(
    ("column", "size"),
    [(TORSO, 3.1), (TORSO, -3.1), (KNEE, 4.1), (HIP, -5.1), (SITTING, 0.0190), (HAND_UP, 0.048)],
)
def test_a_rider_who_is_out_all_the_time_counts_nothing(column: int, size: float) -> None:
    state, outputs = watch(task(), pedal(8.0, lambda *_: off(column, size)))
    assert state.tally.n_strokes == 0
    assert counted(outputs) == []


def test_advice_neither_loses_the_hold_nor_cues() -> None:
    state, outputs = watch(task(), pedal(15.0, during(off(HEIGHT, 0.05), 6.0, 15.0)))
    heights = [
        v
        for o in outputs
        if isinstance(o, StrokeJudged)
        for v in o.channels
        if v.channel is Channel.PELVIS_HEIGHT
    ]
    assert any(v.verdict is Verdict.OUT for v in heights)
    assert not cues(outputs)
    assert not lost(outputs)
    assert state.tally.n_strokes >= 15


def test_a_drift_of_two_strokes_is_forgiven_and_not_counted() -> None:
    # Strokes end at multiples of 2/3 s; from 6 to 7.33 s two whole strokes are out.
    away = during(off(TORSO, 3.3), 5.99, 7.32)
    _, outputs = watch(task(), pedal(10.0, away))
    (drift,) = (o for o in outputs if isinstance(o, BriefDrift))
    assert drift.n_strokes == 2
    assert drift.channel is Channel.TORSO
    assert lost(outputs) == []
    first, second = (o for o in outputs if isinstance(o, ValidInterval))
    assert first.end_ns == drift.start_ns
    assert second.start_ns == drift.end_ns
    assert all(
        not (s.start_ns < drift.end_ns and s.end_ns > drift.start_ns) for s in counted(outputs)
    )


def test_a_longer_drift_loses_the_hold_and_three_good_strokes_bring_it_back() -> None:
    _, outputs = watch(task(), pedal(12.0, during(off(KNEE, -4.5), 5.99, 8.66)))
    (loss,) = lost(outputs)
    assert (loss.reason, loss.channel) == (Reason.DRIFT, Channel.KNEE)
    assert loss.direction == "heels higher"
    assert loss.t_ns == pytest.approx(to_ns(8.0), abs=1000)
    gained = [o.t_ns for o in outputs if isinstance(o, HoldGained)]
    # The fourth stroke out ends at 8.67 s; the next is partly out yet within the limits.
    assert gained[1] == pytest.approx(to_ns(8.667 + 3 * 0.667), abs=to_ns(0.01))


def test_a_channel_out_must_come_back_inside_the_inner_limit() -> None:
    def away(t_s: float, _: float) -> FloatArray:
        return off(KNEE, 0.0 if t_s < 6.0 else 4.5 if t_s < 6.66 else 3.6)

    _, outputs = watch(task(), pedal(11.0, away))
    assert reasons(outputs) == [Reason.DRIFT]
    first, second = counted(outputs)[-1].end_ns, lost(outputs)[0].t_ns
    assert first < to_ns(6.7)
    assert second == pytest.approx(to_ns(8.0), abs=1000)


def test_a_stroke_not_seen_does_not_open_the_way_back_in() -> None:
    # Out for a stroke, then between the inner and the outer limit: still out. Not seeing the
    # stroke that was out must not let the following ones count.
    def away(t_s: float, _: float) -> FloatArray | None:
        return FITTED if t_s < 5.99 else None if t_s < 6.66 else off(KNEE, 3.6)

    _, outputs = watch(task(), pedal(8.0, away))
    assert max(s.end_ns for s in counted(outputs)) <= to_ns(6.01)


def bobbing(size_deg: float) -> Away:
    return lambda _, turns: off(TORSO, size_deg * math.cos(4 * math.pi * turns))


def test_a_torso_that_bobs_counts_nothing_though_its_mean_is_right() -> None:
    state, outputs = watch(task(), pedal(9.0, bobbing(2.0)))
    assert state.tally.n_strokes == 0
    assert all(o.verdict is Verdict.OUT for o in outputs if isinstance(o, StrokeJudged))
    assert watch(task(), pedal(10.0, bobbing(1.2)))[0].tally.n_strokes == 8


@pytest.mark.parametrize("size", [3.1, 3.5, 6.0])
def test_out_28_of_every_30_pictures_counts_nothing(size: float) -> None:
    def away(t_s: float, _: float) -> FloatArray:
        return off(TORSO, size if round(t_s * 30) % 30 < 28 else 0.0)

    assert watch(task(), pedal(11.0, away))[0].tally.n_strokes == 0


# --- unknown -------------------------------------------------------------------------------------


def test_a_short_time_without_belief_costs_one_stroke_and_keeps_the_hold() -> None:
    _, outputs = watch(task(), pedal(10.0, during(None, 6.2, 6.4)))
    unknown = [o for o in outputs if isinstance(o, StrokeJudged) and o.verdict is Verdict.UNKNOWN]
    assert len(unknown) == 1
    assert unknown[0].reason in (Reason.HOLE, Reason.NOT_BELIEVED)
    assert not unknown[0].counted
    assert lost(outputs) == []
    assert len([o for o in outputs if isinstance(o, ValidInterval)]) == 2


def test_two_unknown_strokes_lose_the_hold() -> None:
    _, outputs = watch(task(), pedal(8.0, during(None, 6.2, 6.95)))
    assert reasons(outputs) == [Reason.UNKNOWN]


def test_not_seen_for_over_a_second_loses_the_hold() -> None:
    _, outputs = watch(task(), pedal(10.0, during(None, 6.0, 10.0)))
    assert reasons(outputs)[0] in (Reason.UNKNOWN, Reason.NOT_SEEN)
    assert counted(outputs)[-1].end_ns <= to_ns(6.01)


def test_a_crank_below_40_rpm_counts_nothing() -> None:
    state, outputs = watch(task(), pedal(16.0, rpm=38.0))
    assert state.tally.n_strokes == 0
    assert {o.reason for o in outputs if isinstance(o, StrokeJudged)} == {Reason.TOO_SLOW}


def test_a_stroke_that_never_ends_loses_the_hold() -> None:
    def slowing() -> Iterator[Observation]:
        yield from pedal(6.0)
        turns = 9.0
        for index in range(120):
            turns += 25.0 / 60.0 / 30.0
            angle = 2 * math.pi * turns
            yield Observation(to_ns(6.0 + index / 30.0), True, angle, 2.6, FITTED)

    _, outputs = watch(task(), slowing())
    (loss,) = lost(outputs)
    assert loss.reason is Reason.TOO_SLOW
    assert loss.t_ns <= to_ns(6.0 + 1.6)


def test_no_crank_angle_no_strokes() -> None:
    standing = (Observation(to_ns(k / 30.0), True, None, math.nan, FITTED) for k in range(300))
    state, outputs = watch(task(), standing)
    assert outputs == []
    assert state.tally.n_strokes == 0


# --- gross events --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "reason", "sits_in"),
    [
        (off(HEIGHT, 0.3), Reason.OUT_OF_SADDLE, True),
        (off(SITTING, -0.3), Reason.OUT_OF_SADDLE, True),
        (off(HAND_UP, 0.4), Reason.HAND_OFF, False),
    ],
)
def test_a_gross_event_loses_the_hold_within_half_a_second(
    value: FloatArray, reason: Reason, sits_in: bool
) -> None:
    inputs = pedal(20.0, during(value, 6.2, 9.0))
    _, outputs = watch(task(WatchPlan(sit_in_s=5.0)), inputs)
    (loss,) = lost(outputs)
    assert loss.reason is reason
    assert to_ns(6.2) < loss.t_ns <= to_ns(6.6)
    again_s = [o.t_ns / 1e9 for o in outputs if isinstance(o, HoldGained)][1]
    earliest_s = 9.3 + (5.0 if sits_in else 0.0) + 5 / 1.5
    assert earliest_s - 0.05 <= again_s <= earliest_s + 2 / 1.5
    stroke_ends = [s.end_ns for s in counted(outputs) if s.end_ns < to_ns(9.0)]
    assert max(stroke_ends) <= loss.t_ns


def stopping(stop_s: float, go_s: float, back_rpm: float = 0.0) -> Iterator[Observation]:
    """Pedal at 90 rpm, stop or turn back from stop_s to go_s, and pedal on."""
    turns = 0.0
    for index in range(round(20.0 * 30)):
        t_s = index / 30.0
        rpm = -back_rpm if stop_s <= t_s < go_s else 90.0
        yield Observation(to_ns(t_s), True, 2 * math.pi * turns, 2 * math.pi * rpm / 60.0, FITTED)
        turns += rpm / 60.0 / 30.0


@pytest.mark.parametrize(
    ("back_rpm", "reason"), [(0.0, Reason.COASTED), (45.0, Reason.BACK_PEDALLED)]
)
def test_coasting_and_back_pedalling_lose_the_hold_and_ask_for_a_sit_in(
    back_rpm: float, reason: Reason
) -> None:
    _, outputs = watch(task(WatchPlan(sit_in_s=5.0)), stopping(6.2, 8.0, back_rpm))
    (loss,) = lost(outputs)
    assert loss.reason is reason
    assert to_ns(6.2) < loss.t_ns <= to_ns(6.7)
    again_s = [o.t_ns / 1e9 for o in outputs if isinstance(o, HoldGained)][1]
    assert 8.0 + 5.0 + 5 / 1.5 - 0.05 <= again_s <= 8.0 + 5.0 + 7 / 1.5


@pytest.mark.parametrize("phase", [0.0, 0.3, 0.7])
def test_a_stroke_with_a_stop_in_it_never_counts(phase: float) -> None:
    stop_s = 6.0 + phase / 1.5
    _, outputs = watch(task(SHORT_SIT_IN), stopping(stop_s, stop_s + 0.28))
    stop_ns, go_ns = to_ns(stop_s), to_ns(stop_s + 0.28)
    assert all(s.end_ns <= stop_ns + 1 or s.start_ns >= go_ns for s in counted(outputs))


@pytest.mark.parametrize("reason", [Reason.CAMERA, Reason.PAUSED])
def test_an_outside_event_loses_the_hold_until_it_is_over(reason: Reason) -> None:
    moments = list(pedal(15.0))
    inputs: list[JudgeInput] = [
        *moments[:195],
        Change(to_ns(6.5), reason, begins=True),
        *moments[195:279],
        Change(to_ns(9.3), reason, begins=False),
        *moments[279:],
    ]
    _, outputs = watch(task(), inputs)
    assert lost(outputs) == [HoldLost(to_ns(6.5), reason)]
    strokes = [o for o in outputs if isinstance(o, StrokeJudged)]
    inside = [s for s in strokes if s.end_ns > to_ns(6.5) and s.start_ns < to_ns(9.3)]
    assert not any(s.counted for s in inside)
    # A stroke that contains its beginning or end is no good one, not for steadying either.
    across = [s for s in inside if s.start_ns < to_ns(6.5) or s.end_ns > to_ns(9.3)]
    assert not any(s.verdict is Verdict.GOOD for s in across)
    again_s = [o.t_ns / 1e9 for o in outputs if isinstance(o, HoldGained)][1]
    assert again_s == pytest.approx(9.333 + 5 / 1.5, abs=0.1)


# --- cue -----------------------------------------------------------------------------------------


def test_a_cue_comes_with_the_live_value_and_goes_inside_the_inner_limit() -> None:
    # A step of 6 degrees at 6.0 s: the live mean passes 3 degrees half a revolution (0.33 s)
    # later, the cue follows 0.3 s after that; going back it is inside 2.55 after 0.58 turns.
    _, outputs = watch(task(), pedal(11.0, during(off(TORSO, 6.0), 6.0, 9.0)))
    on, back = cues(outputs)
    assert (on.channel, on.direction) == (Channel.TORSO, "lower, bend elbows")
    assert on.t_ns / 1e9 == pytest.approx(6.0 + 0.333 + 0.3, abs=0.08)
    assert back.channel is None
    assert back.t_ns / 1e9 == pytest.approx(9.0 + 0.667 * (1 - 2.55 / 6.0), abs=0.08)


def test_no_knee_cue_while_the_torso_is_out() -> None:
    def away(t_s: float, _: float) -> FloatArray:
        both = off(KNEE, 6.0) + off(TORSO, 4.0 if t_s < 9.0 else 0.0)
        return both if t_s >= 6.0 else FITTED

    _, outputs = watch(task(), pedal(11.0, away))
    assert [c.channel for c in cues(outputs)] == [Channel.TORSO, Channel.KNEE]


def test_a_rider_who_is_not_seen_is_told_nothing() -> None:
    def away(t_s: float, _: float) -> FloatArray | None:
        return None if t_s >= 9.0 else off(TORSO, 6.0 if t_s >= 6.0 else 0.0)

    _, outputs = watch(task(), pedal(11.0, away))
    assert [c.channel for c in cues(outputs)] == [Channel.TORSO, None]


def test_a_cue_ends_when_pictures_stop_coming() -> None:
    away = pedal(8.0, during(off(TORSO, 6.0), 6.0, 99.0))
    ticks: list[JudgeInput] = [Tick(to_ns(8.0 + n / 10)) for n in range(30)]
    _, outputs = watch(task(), [*away, *ticks])
    assert [c.channel for c in cues(outputs)] == [Channel.TORSO, None]
    assert cues(outputs)[-1].t_ns == pytest.approx(to_ns(9.0), abs=to_ns(0.05))


def test_a_bobbing_torso_is_told_to_ride_quietly_and_not_which_way_to_lean() -> None:
    def from_six(t_s: float, turns: float) -> FloatArray | None:
        return bobbing(2.0)(t_s, turns) if t_s > 6.0 else FITTED

    _, outputs = watch(task(), pedal(12.0, from_six))
    assert [(e.channel, e.direction) for e in lost(outputs)] == [(Channel.TORSO, RESTLESS_WORDS)]


def test_a_bobbing_torso_is_cued_though_a_step_is_not_taken_for_bobbing() -> None:
    _, outputs = watch(task(), pedal(8.0, bobbing(2.5)))
    (cue,) = cues(outputs)
    assert (cue.channel, cue.direction) == (Channel.TORSO, RESTLESS_WORDS)
    _, outputs = watch(task(), pedal(12.0, during(off(TORSO, 6.0), 6.0, 9.0)))
    assert RESTLESS_WORDS not in [c.direction for c in cues(outputs)]


def test_a_rider_gone_for_long_sits_in_and_one_hidden_for_a_moment_does_not() -> None:
    def gained_again_s(gone_s: float) -> float:
        moments = [m for m in pedal(40.0) if not to_ns(8.0) <= m.t_ns < to_ns(8.0 + gone_s)]
        _, outputs = watch(task(WatchPlan(sit_in_s=10.0)), moments)
        assert lost(outputs)[0].reason is Reason.NOT_SEEN
        return [o.t_ns / 1e9 for o in outputs if isinstance(o, HoldGained)][1] - 8.0 - gone_s

    assert gained_again_s(3.0) < 5.0
    assert gained_again_s(8.0) > 10.0
