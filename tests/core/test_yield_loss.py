"""Yield and what costs it, on strokes whose deviations are written down one by one."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import replace

import pytest
from exact_rider import TORSO, envelope, off, pedal, target, task, watch

from posewatch.core import yield_loss
from posewatch.core.envelope import inner_limit
from posewatch.core.intervals import MIN_RUN_STROKES
from posewatch.core.outputs import ChannelValue, Output, Phase, StrokeJudged, ValidInterval
from posewatch.core.records import (
    BODY_CHANNELS,
    Channel,
    Command,
    CommandKind,
    FloatArray,
    Tick,
    Verdict,
)
from posewatch.core.timebase import to_ns
from posewatch.core.watch_plan import WatchPlan
from posewatch.core.yield_loss import YieldState

STROKE_NS = to_ns(1.0)


def stroke(
    index: int,
    counted: bool = False,
    phase: Phase = Phase.STEADYING,
    **found: tuple[float, Verdict] | tuple[float, Verdict, float],
) -> StrokeJudged:
    """Return one stroke of a second; found names channels (torso, knee ...) that are not good."""
    values = []
    for channel in BODY_CHANNELS:
        required = channel is not Channel.PELVIS_HEIGHT
        deviation, verdict, *spread = found.get(channel.name.lower(), (0.0, Verdict.GOOD))
        moved = spread[0] if spread else 0.0
        restless = verdict is Verdict.OUT and moved > 1.0 and abs(deviation) <= 3.0
        values.append(ChannelValue(channel, deviation, moved, verdict, required, restless=restless))
    required_bad = [v.verdict for v in values if v.required and v.verdict is not Verdict.GOOD]
    worst = Verdict.OUT if Verdict.OUT in required_bad else Verdict.UNKNOWN
    return StrokeJudged(
        index * STROKE_NS,
        (index + 1) * STROKE_NS,
        worst if required_bad else Verdict.GOOD,
        counted,
        phase,
        tuple(values),
        None,
    )


def fold(strokes: Iterable[StrokeJudged], plan: WatchPlan | None = None) -> YieldState:
    state = yield_loss.start(target(), WatchPlan() if plan is None else plan)
    for one in strokes:
        state = yield_loss.step(state, Tick(one.end_ns), (one,))
    return state


def torso_out(deviations: Iterable[float], start: int = 0) -> Iterator[StrokeJudged]:
    """Strokes lost by the torso alone."""
    for index, deviation in enumerate(deviations, start):
        yield stroke(index, torso=(deviation, Verdict.OUT))


def test_yield_is_counted_of_ridden_and_a_short_run_is_pending() -> None:
    state = fold([*(stroke(i) for i in range(5)), *(stroke(i, counted=True) for i in range(5, 12))])
    assert (state.n_ridden, state.n_pending, state.n_lost, state.share) == (12, 7, 5, 0.0)
    state = yield_loss.step(state, Tick(0), (stroke(12, counted=True),))
    assert (state.n_ridden, state.n_pending, state.n_lost) == (13, 0, 5)
    assert state.share == pytest.approx(8 / 13)


def test_a_run_that_ended_too_short_is_lost() -> None:
    state = fold(stroke(i, counted=True) for i in range(3))
    ended = ValidInterval(0, 3 * STROKE_NS, 3, False)
    state = yield_loss.step(state, Tick(0), (ended,))
    assert (state.n_pending, state.n_lost) == (0, 3)


def test_an_older_run_that_is_told_late_does_not_end_the_new_one() -> None:
    state = fold(stroke(i, counted=True) for i in (0, 1, 2))
    late = ValidInterval(0, 3 * STROKE_NS, 3, False)
    state = yield_loss.step(state, Tick(0), (stroke(4, counted=True), late))
    assert (state.n_pending, state.n_lost) == (1, 3)


def test_sit_in_and_pause_are_not_ridden() -> None:
    state = fold([stroke(0), stroke(1, phase=Phase.SIT_IN), stroke(2)])
    assert state.n_ridden == 2
    state = yield_loss.step(state, Command(3 * STROKE_NS, CommandKind.PAUSE), ())
    for index in (3, 4):
        state = yield_loss.step(state, Tick(0), (stroke(index),))
    assert state.n_ridden == 2
    state = yield_loss.step(state, Command(5 * STROKE_NS, CommandKind.RESUME), ())
    # One of the pause that was judged only after it, and one after the pause.
    for index in (4, 5):
        state = yield_loss.step(state, Tick(0), (stroke(index),))
    assert state.n_ridden == 3


def test_no_advice_before_two_minutes_or_while_enough_counts() -> None:
    state = fold(torso_out([4.0] * 119))
    assert yield_loss.advise(state) is None
    state = yield_loss.step(state, Tick(0), tuple(torso_out([4.0], 119)))
    assert yield_loss.advise(state) is not None
    # 84 of 120 = 70 % count: no advice; one lost more, and there is.
    enough = fold([*(stroke(i, counted=True) for i in range(84)), *torso_out([4.0] * 36, 84)])
    assert enough.share == pytest.approx(0.7)
    assert yield_loss.advise(enough) is None
    more = yield_loss.step(enough, Tick(0), tuple(torso_out([4.0], 120)))
    assert yield_loss.advise(more) is not None


def test_the_band_that_costs_most_and_the_least_wider_one_that_gives_half() -> None:
    # Torso 3 deg, tried at 3.5, 4, 4.5; SD 0.2, so inner limits 2.6 (3), 2.975 (3.5), 3.4 (4).
    # 30 strokes at 3.2: out at 3, good at 3.5 (never out there). 20 at 3.9: good at 4.
    # 15 with torso and hip, 12 with the hip alone; the last 43 are good and steady the hold.
    both = {"torso": (3.2, Verdict.OUT), "hip": (6.0, Verdict.OUT)}
    strokes = [
        *torso_out([3.2] * 30),
        *torso_out([3.9] * 20, 30),
        *(stroke(i, **both) for i in range(50, 65)),
        *(stroke(i, hip=(6.0, Verdict.OUT)) for i in range(65, 77)),
        *(stroke(i) for i in range(77, 120)),
    ]
    advice = yield_loss.advise(fold(strokes))
    assert advice is not None
    assert advice.channel is Channel.TORSO
    assert (advice.n_lost, advice.n_out, advice.n_alone) == (120, 65, 50)
    assert (advice.tol, advice.wider, advice.n_gained) == (3.0, 3.5, 30)
    assert advice.off == pytest.approx((30 * 3.2 + 20 * 3.9) / 50)


def test_the_way_back_in_belongs_to_the_wider_limit() -> None:
    # At 3.5 the inner limit is 2.975 (0.15 of 3.5 is more than two SD of 0.2). 3.6 is out there;
    # 3.2, 3.1 are not back inside; 2.9 would be, though at 3 (inner 2.55) it is still out.
    assert inner_limit(3.5, 0.2) == pytest.approx(2.975)
    assert inner_limit(3.0, 0.2) == pytest.approx(2.55)
    state = fold(torso_out([3.6, 3.2, 3.1, 2.9, 3.2]))
    torso = state.bands[0]
    assert [round(w.tol, 3) for w in torso.wider] == [3.5, 4.0, 4.5]
    # At 3.5: 2.9 and the 3.2 after it; at 4 and 4.5 all five.
    assert [w.n_gained for w in torso.wider] == [2, 5, 5]


def test_an_unknown_stroke_opens_no_way_back_in() -> None:
    state = fold(
        [
            *torso_out([3.6]),
            stroke(1, torso=(math.nan, Verdict.UNKNOWN)),
            *torso_out([3.2], 2),
        ]
    )
    assert state.n_unknown == 1
    assert [w.n_gained for w in state.bands[0].wider] == [0, 2, 2]


def test_strokes_outside_ridden_time_gain_nothing_but_move_the_way_back() -> None:
    out = stroke(0, phase=Phase.SIT_IN, torso=(3.6, Verdict.OUT))
    state = fold([out, *torso_out([3.2], 1)])
    assert state.bands[0].n_alone == 1
    assert state.bands[0].wider[0].n_gained == 0


def test_movement_within_the_stroke_is_gained_by_no_wider_band() -> None:
    # Mean 1, movement 1.4 of 1 allowed; and mean 3.2 with the same movement.
    restless = (1.0, Verdict.OUT, 1.4)
    off_and_restless = (3.2, Verdict.OUT, 1.4)
    strokes = [stroke(i, torso=restless if i % 2 else off_and_restless) for i in range(120)]
    advice = yield_loss.advise(fold(strokes))
    assert advice is not None
    assert (advice.channel, advice.n_alone, advice.n_restless) == (Channel.TORSO, 120, 60)
    assert (advice.wider, advice.n_gained) == (None, 0)


def test_two_bands_always_out_together_are_lost_by_neither_alone() -> None:
    both = {"torso": (4.0, Verdict.OUT), "hip": (6.0, Verdict.OUT)}
    advice = yield_loss.advise(fold(stroke(i, **both) for i in range(120)))
    assert advice is not None
    assert (advice.n_out, advice.n_alone, advice.wider) == (120, 0, None)
    assert math.isnan(advice.off)


def test_strokes_not_known_cost_more_than_any_band() -> None:
    unknown = (stroke(i, knee=(math.nan, Verdict.UNKNOWN)) for i in range(80))
    advice = yield_loss.advise(fold([*unknown, *torso_out([4.0] * 40, 80)]))
    assert advice is not None
    assert (advice.channel, advice.n_unknown, advice.n_lost) == (None, 80, 120)


def test_advisory_channels_cost_nothing() -> None:
    state = fold(stroke(i, pelvis_height=(1.0, Verdict.OUT)) for i in range(120))
    assert Channel.PELVIS_HEIGHT not in [band.channel for band in state.bands]
    assert all(band.n_out == 0 for band in state.bands)


def test_planned_power_is_a_band_that_cannot_be_widened() -> None:
    plan = WatchPlan(power_w=200.0)
    power = ChannelValue(Channel.POWER, 30.0, 0.0, Verdict.OUT, True)
    lost = (
        replace(one, verdict=Verdict.OUT, channels=(*one.channels, power))
        for one in map(stroke, range(120))
    )
    advice = yield_loss.advise(fold(lost, plan))
    assert advice is not None
    assert (advice.channel, advice.unit, advice.tol) == (Channel.POWER, None, pytest.approx(14.0))
    assert (advice.n_alone, advice.off, advice.wider) == (120, 30.0, None)


@pytest.mark.parametrize("channel", BODY_CHANNELS)
def test_a_band_is_tried_wider_in_few_steps_up_to_half_as_much_again(channel: Channel) -> None:
    held = target()
    envelopes = tuple(replace(envelope(c), required=True) for c in BODY_CHANNELS)
    state = yield_loss.start(replace(held, envelopes=envelopes), WatchPlan())
    band = next(b for b in state.bands if b.channel is channel)
    limits = [w.tol for w in band.wider]
    assert 1 <= len(limits) <= yield_loss.WIDER_STEPS
    assert limits == sorted(limits)
    assert band.tol < limits[0]
    assert limits[-1] <= 1.5 * band.tol + 1e-9


def strokes_of(outputs: Iterable[Output]) -> list[StrokeJudged]:
    return [o for o in outputs if isinstance(o, StrokeJudged)]


def test_what_a_wider_band_gains_is_what_the_judge_says_with_that_band() -> None:
    """Ride once against 3 deg and once against each wider limit: the good strokes are those."""

    def away(t_s: float, _: float) -> FloatArray:
        return off(TORSO, 2.4 + 1.6 * math.sin(0.7 * t_s))

    def good_at(tol: float) -> list[bool]:
        held = task()
        held = replace(held, target=held.target.with_tolerance(Channel.TORSO, tol))
        ridden = watch(held, pedal(36.0, away))[1]
        return [one.verdict is Verdict.GOOD for one in strokes_of(ridden)]

    state = fold(strokes_of(watch(task(), pedal(36.0, away))[1]))
    good = good_at(3.0)
    assert 0.2 < sum(good) / len(good) < 0.8
    for wider in state.bands[0].wider:
        assert sum(good_at(wider.tol)) - sum(good) == wider.n_gained > 0


def test_counts_are_the_judges_own() -> None:
    def away(t_s: float, _: float) -> FloatArray:
        return off(TORSO, 4.0 if t_s % 20.0 > 14.0 else 0.0)

    held = task()
    judge_state, outputs = watch(held, pedal(60.0, away))
    state = yield_loss.start(held.target, held.plan)
    for output in outputs:
        state = yield_loss.step(state, Tick(0), (output,))
    assert state.tally.n_strokes == judge_state.tally.n_strokes > 3 * MIN_RUN_STROKES
