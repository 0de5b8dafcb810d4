"""How a trainer is asked to hold the power, on trainers that say what tests let them say."""

from __future__ import annotations

import threading
from concurrent.futures import Future
from typing import Any, cast

import pytest

from posewatch import held_power
from posewatch.core.sensor_choice import SensorChoice
from posewatch.core.trainer_cadence import Cadence
from posewatch.core.trainer_state import ControlState, Stage
from posewatch.core.watch_plan import WatchPlan
from posewatch.errors import BadInput
from posewatch.held_power import Operator
from posewatch.runtime import clock

TRAINER = SensorChoice("Trainer", "")
PLAN = WatchPlan(power_w=200.0, cadence_rpm=90.0)


def turning(rpm: float) -> Cadence:
    now_ns = clock.monotonic_ns()
    return Cadence(rpm=rpm, heard_ns=now_ns)


class Told:
    """Live sensors whose trainer answers with one state after the other."""

    def __init__(self, *answers: ControlState) -> None:
        self.answers = list(answers)
        self.n_asked = 0

    def hold_power(self, *_: object, **__: object) -> Future[ControlState]:
        self.n_asked += 1
        found: Future[ControlState] = Future()
        found.set_result(self.answers.pop(0))
        return found

    def hold_state(self, _: SensorChoice) -> ControlState:
        return ControlState(cadence=turning(90.0))


def hold(sensors: Told) -> ControlState:
    operator = Operator(confirm=lambda _: True, tell=lambda _: None)
    return held_power._held(cast(Any, sensors), TRAINER, PLAN, operator, threading.Event())


def test_cranks_that_stand_when_it_is_asked_are_waited_for() -> None:
    """A trainer tells its 0 rpm before it is asked for anything: that is no refusal."""
    standing = ControlState(cadence=turning(0.0), text="The cranks turn at 0 rpm.")
    held = ControlState(stage=Stage.HOLDING, held_w=200, cadence=turning(90.0))
    sensors = Told(standing, held)
    assert hold(sensors) is held
    assert sensors.n_asked == 2


def test_a_trainer_that_refuses_while_the_cranks_turn_is_not_asked_again() -> None:
    sensors = Told(ControlState(cadence=turning(90.0), text="It has no control point."))
    with pytest.raises(BadInput):
        hold(sensors)
    assert sensors.n_asked == 1
