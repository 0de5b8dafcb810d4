"""Every stage of a held power, every event in each, on a fake clock."""

from __future__ import annotations

import itertools
from collections.abc import Iterable

import pytest

from posewatch.core import trainer_control
from posewatch.core.timebase import to_ns
from posewatch.core.trainer_control import OFF
from posewatch.core.trainer_records import (
    CAUTIONS,
    Answered,
    Command,
    ControlTaken,
    Order,
    PowerRange,
    Result,
    StoppedThere,
)
from posewatch.core.trainer_state import (
    RELEASING,
    Asked,
    Confirmed,
    ControlEvent,
    ControlLimits,
    ControlState,
    Lost,
    Ranged,
    Released,
    Stage,
    Turned,
    Unsent,
)

LIMITS = ControlLimits()
REQUEST, STOP, RESET = Command(Order.REQUEST_CONTROL), Command(Order.STOP), Command(Order.RESET)
END_LINK = Command(Order.END_LINK)


def power(watts: int) -> Command:
    return Command(Order.SET_POWER, watts)


def done(order: Order) -> Answered:
    return Answered(order, Result.SUCCESS)


class Rehearsal:
    """Steps a state and keeps what was sent."""

    def __init__(self, *events: ControlEvent) -> None:
        self.state: ControlState = OFF
        self.t_s = 100.0
        self.sent: list[Command] = []
        self.take(*events)

    def take(self, *events: ControlEvent) -> list[Command]:
        """Take in events 0.1 s apart; returns what is sent for them."""
        before = len(self.sent)
        for event in events:
            self.t_s += 0.1
            self._keep(trainer_control.step(self.state, to_ns(self.t_s), event, LIMITS))
        return self.sent[before:]

    def wait(self, seconds: float) -> list[Command]:
        """Let time pass in small ticks."""
        before = len(self.sent)
        for _ in range(round(seconds / 0.05)):
            self.t_s += 0.05
            self._keep(trainer_control.tick(self.state, to_ns(self.t_s), LIMITS))
        return self.sent[before:]

    def _keep(self, step: trainer_control.Step) -> None:
        self.state, commands = step
        self.sent += commands


GRANTED = done(Order.REQUEST_CONTROL)
SET = done(Order.SET_POWER)
HELD: tuple[ControlEvent, ...] = (Asked(150), Confirmed(150), GRANTED, SET)
#: How each stage is come to.
WAYS: dict[Stage, tuple[ControlEvent, ...]] = {
    Stage.OFF: (),
    Stage.REQUESTING: HELD[:2],
    Stage.SETTING: HELD[:3],
    Stage.HOLDING: HELD,
    Stage.LOWERING: (*HELD, Released()),
    Stage.STOPPING: (*HELD, Released(), SET),
    Stage.GIVING_UP: (*HELD, Released(), SET, done(Order.STOP)),
}
EVENTS: tuple[ControlEvent, ...] = (
    Asked(150),
    Asked(160),
    Asked(60),
    Asked(400),
    Asked(9999),
    Asked(-5),
    Confirmed(150),
    Confirmed(400),
    Released(),
    Released(hurried=True),
    Turned(90.0),
    Turned(20.0),
    Ranged(PowerRange(0, 300)),
    ControlTaken(),
    StoppedThere(),
    Lost(),
    *(Answered(order, result) for order in Order for result in Result),
    *(Unsent(order, "gone") for order in Order),
)


def test_each_way_leads_to_its_stage() -> None:
    assert {stage: Rehearsal(*way).state.stage for stage, way in WAYS.items()} == {
        stage: stage for stage in Stage
    }


def test_control_is_requested_and_granted_before_a_power_is_set() -> None:
    ride = Rehearsal()
    assert ride.take(Asked(150)) == []
    assert ride.take(Confirmed(150)) == [REQUEST]
    assert ride.wait(1.0) == []
    assert ride.take(GRANTED) == [power(150)]
    assert ride.state.held_w is None
    assert ride.take(SET) == []
    assert (ride.state.stage, ride.state.held_w) == (Stage.HOLDING, 150)
    assert ride.wait(3600.0) == []


@pytest.mark.parametrize(("watts", "asks"), [(151, False), (170, False), (171, True), (300, True)])
def test_a_raise_of_more_than_20_w_waits_to_be_confirmed(watts: int, asks: bool) -> None:
    ride = Rehearsal(*HELD)
    assert ride.take(Asked(watts)) == ([] if asks else [power(watts)])
    assert ride.state.unconfirmed_w == (watts if asks else None)
    if asks:
        assert f"150 to {watts} W" in ride.state.text
        assert ride.take(Confirmed(watts)) == [power(watts)]


@pytest.mark.parametrize("watts", [25, 60, 149, 150])
def test_lowering_never_waits(watts: int) -> None:
    assert Rehearsal(*HELD).take(Asked(watts)) == [power(watts)]


def test_the_first_power_is_a_raise_from_nothing() -> None:
    limits = ControlLimits(lowest_w=10)
    assert trainer_control.step(OFF, 0, Asked(20), limits)[1] == (REQUEST,)
    assert Rehearsal(Asked(25)).sent == []


def test_a_confirmation_counts_only_for_that_power_and_in_time() -> None:
    ride = Rehearsal(*HELD, Asked(200))
    assert ride.take(Confirmed(220)) == []
    ride.take(Asked(220))
    assert ride.take(Confirmed(200)) == []
    assert ride.wait(LIMITS.confirm_s + 0.1) == []
    assert ride.state.unconfirmed_w is None
    assert "not confirmed in time" in ride.state.text
    assert ride.take(Confirmed(220)) == []
    assert ride.state.held_w == 150
    # Late without a tick in between is late too.
    ride.take(Asked(220))
    ride.t_s += LIMITS.confirm_s
    assert ride.take(Confirmed(220)) == []


def test_lowering_while_a_raise_waits_drops_the_raise() -> None:
    ride = Rehearsal(*HELD, Asked(200), Asked(100), SET)
    assert ride.take(Confirmed(200)) == []
    assert ride.state.held_w == 100


def test_a_raise_is_counted_from_the_lowest_power_that_may_be_in_force() -> None:
    # 100 W was sent and is not confirmed yet: 160 W may be a raise of 60.
    assert Rehearsal(*HELD, Asked(100)).take(Asked(160)) == []
    # 170 W was sent and is not confirmed yet: 180 W may be a raise of 30.
    ride = Rehearsal(*HELD, Asked(170))
    ride.take(Asked(180))
    assert ride.state.unconfirmed_w == 180


# --- raises that add up --------------------------------------------------------------------------


def test_small_raises_that_come_to_over_20_w_within_a_minute_wait_too() -> None:
    ride = Rehearsal(*HELD)
    assert ride.take(Asked(160), SET) == [power(160)]
    assert ride.take(Asked(170), SET) == [power(170)]
    assert ride.take(Asked(171)) == []
    assert ride.state.unconfirmed_w == 171
    assert "150 to 171 W within 60 s" in ride.state.text
    assert ride.take(Confirmed(171)) == [power(171)]


def test_a_step_a_minute_needs_no_confirmation() -> None:
    ride = Rehearsal(*HELD)
    for watts in (170, 190, 210):
        ride.wait(LIMITS.adds_up_s)
        assert ride.take(Asked(watts), SET) == [power(watts)]


def test_down_and_up_again_gains_nothing() -> None:
    ride = Rehearsal(*HELD)
    assert ride.take(Asked(170), SET, Asked(150), SET) == [power(170), power(150)]
    assert ride.take(Asked(170), SET) == [power(170)]
    assert ride.take(Asked(180)) == []
    # What is lower now counts, however long ago it was raised to.
    assert ride.take(Asked(100), SET, Asked(120), SET) == [power(100), power(120)]
    assert ride.take(Asked(121)) == []


def test_from_a_confirmed_power_it_is_counted_anew() -> None:
    ride = Rehearsal(*HELD, Asked(170), SET, Asked(190), Confirmed(190), SET)
    assert ride.take(Asked(210), SET) == [power(210)]
    assert ride.take(Asked(211)) == []


def test_a_raise_that_is_asked_twice_is_one() -> None:
    ride = Rehearsal(*HELD, Asked(170))
    assert ride.take(Asked(170)) == []
    assert ride.state.unconfirmed_w is None
    assert ride.take(SET) == []
    assert ride.state.held_w == 170


# --- the cadence ---------------------------------------------------------------------------------


def pedalled(ride: Rehearsal, rpm: float, seconds: float) -> list[Command]:
    """Tell a cadence ten times a second."""
    before = len(ride.sent)
    ride.take(*[Turned(rpm)] * round(seconds * 10))
    return ride.sent[before:]


def test_a_cadence_far_below_the_plan_lets_go_with_a_plain_reason() -> None:
    ride = Rehearsal(Asked(150, 90.0), Confirmed(150), GRANTED, SET)
    assert pedalled(ride, 64.0, 60.0) == []
    assert pedalled(ride, 62.0, 1.9) == []
    assert pedalled(ride, 62.0, 0.3) == [power(50)]
    assert "The cadence sank to 62 rpm (limit 63)" in ride.state.text
    assert ride.take(SET, done(Order.STOP), done(Order.RESET)) == [STOP, RESET]
    assert (ride.state.stage, ride.state.fault) == (Stage.OFF, True)
    # Pedalling again, nothing is set again by itself; asked for, it must be confirmed.
    assert pedalled(ride, 90.0, 60.0) == []
    assert ride.take(Asked(150, 90.0)) == []
    assert ride.take(Confirmed(150)) == [REQUEST]


def test_without_a_planned_cadence_50_rpm_is_the_least() -> None:
    ride = Rehearsal(*HELD)
    assert pedalled(ride, 50.0, 10.0) == []
    assert pedalled(ride, 49.0, 2.3) == [power(50)]


def test_a_cadence_that_is_not_told_any_more_lets_go() -> None:
    ride = Rehearsal(*HELD, Turned(90.0))
    assert ride.wait(LIMITS.cadence.unheard_s - 0.2) == []
    assert ride.wait(0.4) == [power(50)]


def test_cranks_that_stand_get_no_power_to_push_against() -> None:
    standing = Rehearsal(Turned(0.0))
    assert standing.take(Asked(150)) == []
    assert "turn at 0 rpm" in standing.state.text
    assert standing.take(Confirmed(150)) == []
    # They stop between the question and the answer, and while control is asked for.
    assert Rehearsal(Turned(90.0), Asked(150), Turned(0.0)).take(Confirmed(150)) == []
    late = Rehearsal(Turned(90.0), *HELD[:2], Turned(0.0))
    assert late.take(GRANTED) == [RESET]
    # A lower power is always sent.
    assert Rehearsal(*HELD, Turned(0.0)).take(Asked(100)) == [power(100)]


def test_what_is_asked_while_an_answer_is_awaited_is_sent_after_it() -> None:
    ride = Rehearsal(*HELD, Asked(140))
    assert ride.take(Asked(130)) == []
    assert ride.take(SET) == [power(130)]
    assert ride.take(SET) == []
    assert ride.state.held_w == 130


@pytest.mark.parametrize("watts", [-5, 0, 24, 301, 9999])
def test_a_power_out_of_range_changes_nothing(watts: int) -> None:
    ride = Rehearsal(Ranged(PowerRange(0, 300)), *HELD)
    assert ride.take(Asked(watts), Confirmed(watts)) == []
    assert (ride.state.stage, ride.state.held_w) == (Stage.HOLDING, 150)


@pytest.mark.parametrize(
    ("way", "last"),
    [
        (HELD[:3], power(50)),
        (HELD, power(50)),
        ((*HELD, Asked(30), SET), power(30)),
        # A raise that was sent but not confirmed: lower than all that may be in force.
        ((*HELD, Asked(30)), power(30)),
        ((Ranged(PowerRange(60, 300)), *HELD), power(60)),
    ],
)
def test_letting_go_lowers_stops_and_gives_up_and_never_raises(
    way: Iterable[ControlEvent], last: Command
) -> None:
    ride = Rehearsal(*way)
    assert ride.take(Released()) == [last]
    assert ride.take(SET) == [STOP]
    assert ride.take(done(Order.STOP)) == [RESET]
    assert ride.take(done(Order.RESET)) == []
    assert (ride.state.stage, ride.state.held_w, ride.state.fault) == (Stage.OFF, None, False)


def test_before_a_power_was_set_only_control_is_given_up() -> None:
    assert Rehearsal(*HELD[:2]).take(Released()) == [RESET]


@pytest.mark.parametrize("stage", [Stage.REQUESTING, Stage.SETTING])
def test_an_answer_that_does_not_come_lets_go_and_ends_the_link(stage: Stage) -> None:
    ride = Rehearsal(*WAYS[stage])
    n_sent = len(ride.sent)
    assert ride.wait(LIMITS.answer_s - 0.2) == []
    ride.wait(10.0)
    lowering = [] if stage is Stage.REQUESTING else [power(50), STOP]
    assert ride.sent[n_sent:] == [*lowering, RESET, END_LINK]
    assert (ride.state.stage, ride.state.fault) == (Stage.OFF, True)
    assert "did not answer" in ride.state.text
    assert "pull its plug" in ride.state.text


@pytest.mark.parametrize("stage", RELEASING)
@pytest.mark.parametrize("result", [one for one in Result if one is not Result.SUCCESS])
def test_a_refusal_while_letting_go_does_not_stop_it(stage: Stage, result: Result) -> None:
    ride = Rehearsal(*WAYS[stage])
    for order in (Order.SET_POWER, Order.STOP, Order.RESET):
        ride.take(Answered(order, result))
    assert ride.state.stage is Stage.OFF
    assert ride.sent[-1] == END_LINK
    assert ride.sent[2:-1] == [power(50), STOP, RESET]


def test_a_hurry_shortens_what_is_under_way() -> None:
    ride = Rehearsal(*HELD, Released())
    ride.take(Released(hurried=True))
    ride.wait(3 * LIMITS.hurry_s + 0.2)
    assert ride.state.stage is Stage.OFF


def test_what_comes_late_is_not_taken_for_another_answer() -> None:
    ride = Rehearsal(*HELD, Released(), SET)
    assert ride.take(SET, GRANTED) == []
    assert ride.state.stage is Stage.STOPPING


def test_control_that_was_taken_back_needs_no_orders() -> None:
    ride = Rehearsal(*HELD)
    assert ride.take(ControlTaken()) == []
    assert (ride.state.stage, ride.state.fault) == (Stage.OFF, True)


def test_lost_it_comes_back_not_held_and_needs_a_new_confirmation() -> None:
    ride = Rehearsal(*HELD)
    assert ride.take(Lost()) == []
    assert (ride.state.stage, ride.state.held_w, ride.state.fault) == (Stage.OFF, None, True)
    assert "ask again" in ride.state.text
    assert ride.wait(60.0) == []
    assert ride.take(Confirmed(150), Asked(150)) == []
    assert ride.take(Confirmed(150)) == [REQUEST]


@pytest.mark.parametrize("stage", Stage)
@pytest.mark.parametrize("event", EVENTS, ids=repr)
def test_every_event_in_every_stage(stage: Stage, event: ControlEvent) -> None:
    ride = Rehearsal(*WAYS[stage])
    before = ride.state
    sent = ride.take(event)
    set_powers = [one.watts for one in sent if one.order is Order.SET_POWER]
    # One event never raises by more than the limit unless it is the confirmation of that raise.
    if not isinstance(event, Confirmed):
        in_force = before.held_w or before.wanted_w or before.sent_w or 0
        assert all(watts <= in_force + LIMITS.raise_w for watts in set_powers)
    # While letting go nothing but letting go is sent.
    if stage in RELEASING:
        assert all(one in (STOP, RESET, END_LINK) for one in sent)
    if stage is Stage.OFF:
        assert sent == []
    fault = isinstance(event, Unsent | ControlTaken | StoppedThere | Lost)
    if fault and ride.state.stage is Stage.HOLDING:
        assert isinstance(event, Unsent)  # of an order that nobody waits for
    # Whatever came, with silence from now on it ends off, or holds what it held.
    ride.wait(LIMITS.answer_s + 3 * LIMITS.release_s + LIMITS.confirm_s)
    assert ride.state.settled
    assert trainer_control.next_ns(ride.state, LIMITS) is None
    if ride.state.stage is Stage.HOLDING:
        assert stage is Stage.HOLDING or isinstance(event, Answered)
    assert ride.state.text


def test_no_two_events_leave_it_waiting_for_ever_or_raise_unconfirmed() -> None:
    for stage, (first, second) in itertools.product(Stage, itertools.permutations(EVENTS, 2)):
        ride = Rehearsal(*WAYS[stage])
        n_sent = len(ride.sent)
        ride.take(first, second)
        confirmed = isinstance(first, Confirmed) or isinstance(second, Confirmed)
        set_powers = [one.watts for one in ride.sent[n_sent:] if one.order is Order.SET_POWER]
        assert confirmed or all(watts <= 150 + LIMITS.raise_w for watts in set_powers)
        due_ns = trainer_control.next_ns(ride.state, LIMITS)
        assert ride.state.settled or due_ns is not None
        for _ in range(6):
            due_ns = trainer_control.next_ns(ride.state, LIMITS)
            if due_ns is not None:
                ride.state, _ = trainer_control.tick(ride.state, due_ns, LIMITS)
        assert ride.state.settled, (stage, first, second)


def test_the_cautions_name_pedalling_the_stop_and_telling_the_rider() -> None:
    words = " ".join(CAUTIONS)
    assert all(one in words for one in ("must be pedalling", "stop must be in reach", "telling"))
