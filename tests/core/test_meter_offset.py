"""When a meter's zero offset is taken, what is logged, and what is warned of."""

from __future__ import annotations

import pytest

from posewatch.core import meter_offset
from posewatch.core.meter_offset import (
    ComparisonBegan,
    OffsetAnswer,
    OffsetEvent,
    OffsetOutput,
    OffsetPlan,
    OffsetState,
    OffsetUnit,
    PairBegan,
    PairEnded,
    Prompt,
    RidingBegan,
    Send,
    Warn,
    Zero,
    ZeroAnswered,
    ZeroAsked,
)
from posewatch.core.records import SourceCondition, SourceState
from posewatch.core.timebase import to_ns

PLAN = OffsetPlan(warm_up_s=600.0, answer_s=15.0)


class Meter:
    """Steps the state of one meter."""

    def __init__(self, unit: OffsetUnit = OffsetUnit.TORQUE) -> None:
        self.state = OffsetState("Crank", unit)

    def at(self, t_s: float, event: OffsetEvent | None = None) -> tuple[OffsetOutput, ...]:
        """Let something happen, None = time passed."""
        if event is None:
            self.state, outputs = meter_offset.tick(self.state, to_ns(t_s), PLAN)
        else:
            self.state, outputs = meter_offset.step(self.state, to_ns(t_s), event, PLAN)
        return outputs

    def zeroed(self, t_s: float, raw: int | None) -> tuple[OffsetOutput, ...]:
        """Take an offset."""
        assert Send() in self.at(t_s, ZeroAsked())
        return self.at(t_s + 1.0, ZeroAnswered(OffsetAnswer(True, raw)))


def warnings(outputs: tuple[OffsetOutput, ...]) -> list[str]:
    return [one.text for one in outputs if isinstance(one, Warn)]


def line(outputs: tuple[OffsetOutput, ...]) -> SourceState:
    (state,) = [one for one in outputs if isinstance(one, SourceState)]
    return state


def test_it_is_asked_for_once_when_the_warm_up_is_over() -> None:
    meter = Meter()
    assert meter.at(50.0) == ()
    meter.at(100.0, RidingBegan())
    meter.at(300.0, RidingBegan())  # the warm-up runs on
    assert meter.at(699.9) == ()
    (prompt,) = meter.at(700.0)
    assert isinstance(prompt, Prompt)
    assert "feet off the pedals" in prompt.text
    assert meter.at(701.0) == ()
    meter.zeroed(710.0, 320)
    assert meter.at(720.0) == ()
    assert meter.state.zeros == (Zero(to_ns(711.0), 320),)


def test_the_value_is_a_line_for_the_log() -> None:
    outputs = Meter().zeroed(700.0, -400)
    assert outputs == (
        SourceState(
            to_ns(701.0),
            "zero offset of Crank",
            SourceCondition.RUNNING,
            "Zero offset of Crank: -12.50 N m (raw -400).",
        ),
    )


@pytest.mark.parametrize(
    ("raw", "unit", "words"),
    [
        (320, OffsetUnit.TORQUE, "10.00 N m (raw 320)"),
        (320, OffsetUnit.FORCE, "320 N (raw 320)"),
        (None, OffsetUnit.TORQUE, "not told by the meter"),
    ],
)
def test_an_offset_in_words(raw: int | None, unit: OffsetUnit, words: str) -> None:
    assert meter_offset.offset_words(raw, unit) == words


@pytest.mark.parametrize(("change", "warned"), [(7, False), (-7, False), (8, True), (-8, True)])
def test_a_later_comparison_checks_again_and_warns_of_a_change(change: int, warned: bool) -> None:
    meter = Meter()
    meter.at(0.0, RidingBegan())
    meter.zeroed(700.0, 320)
    meter.at(710.0, PairBegan())
    assert meter.at(1500.0) == ()
    meter.at(2000.0, PairEnded())
    (prompt,) = meter.at(2100.0, ComparisonBegan())
    assert isinstance(prompt, Prompt)
    outputs = meter.zeroed(2110.0, 320 + change)
    assert bool(warnings(outputs)) is warned
    if warned:
        # 8/32 N m at 90 rpm: 0.25 x 9.42478 = 2.356 W.
        assert "0.25 N m" in warnings(outputs)[0]
        assert "2 W at 90 rpm" in line(outputs).text


def test_a_change_of_a_force_is_told_in_newtons() -> None:
    meter = Meter(OffsetUnit.FORCE)
    meter.zeroed(700.0, 100)
    assert warnings(meter.zeroed(800.0, 101)) == []
    assert "+9 N" in warnings(meter.zeroed(900.0, 110))[0]


@pytest.mark.parametrize(("before", "now"), [(None, 320), (320, None), (None, None)])
def test_an_unknown_offset_is_no_change(before: int | None, now: int | None) -> None:
    meter = Meter()
    meter.zeroed(700.0, before)
    assert warnings(meter.zeroed(800.0, now)) == []


def test_between_two_mountings_it_is_warned_against_and_marked_if_done_all_the_same() -> None:
    meter = Meter()
    meter.at(0.0, RidingBegan())
    meter.zeroed(700.0, 320)
    assert meter.at(710.0, PairBegan()) == ()
    outputs = meter.at(800.0, ZeroAsked())
    assert "Do not zero" in warnings(outputs)[0]
    assert Send() not in outputs
    assert meter.at(801.0, ZeroAnswered(OffsetAnswer(True, 1))) == ()  # nobody asked
    assert meter.at(810.0, ZeroAsked(insisted=True)) == (Send(),)
    outputs = meter.at(811.0, ZeroAnswered(OffsetAnswer(True, 320)))
    assert "do not compare their power" in line(outputs).text
    meter.at(900.0, PairEnded())
    assert Send() in meter.at(901.0, ZeroAsked())


def test_a_pair_without_an_offset_is_warned_of_and_not_prompted_inside() -> None:
    meter = Meter()
    meter.at(0.0, RidingBegan())
    assert "was not taken before" in warnings(meter.at(500.0, PairBegan()))[0]
    assert meter.at(700.0) == ()
    meter.at(800.0, PairEnded())
    assert isinstance(meter.at(801.0)[0], Prompt)


def test_one_that_is_taken_cold_is_warned_of_and_due_again() -> None:
    meter = Meter()
    meter.at(0.0, RidingBegan())
    outputs = meter.at(60.0, ZeroAsked())
    assert "9 min to go" in warnings(outputs)[0]
    assert outputs[-1] == Send()
    meter.at(61.0, ZeroAnswered(OffsetAnswer(True, 320)))
    assert isinstance(meter.at(600.0)[0], Prompt)


def test_a_refusal_and_a_late_answer_are_told_and_leave_it_due() -> None:
    meter = Meter()
    meter.at(0.0, RidingBegan())
    meter.at(700.0, ZeroAsked())
    assert "already" in warnings(meter.at(701.0, ZeroAsked()))[0]
    assert meter.at(714.9) == ()
    outputs = meter.at(715.0)
    assert line(outputs).condition is SourceCondition.LOST
    assert "within 15 s" in line(outputs).text
    assert meter.at(716.0, ZeroAnswered(OffsetAnswer(True, 5))) == ()
    meter.at(720.0, ZeroAsked())
    outputs = meter.at(721.0, ZeroAnswered(OffsetAnswer(False, why="the cranks moved")))
    assert "the cranks moved" in warnings(outputs)[0]
    assert meter.state.zeros == ()
    assert meter.state.due
