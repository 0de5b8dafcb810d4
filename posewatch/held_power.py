"""A trainer that holds the planned power of a watch: waited for, confirmed, held, and let go."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from concurrent.futures import Future
from contextlib import closing, contextmanager
from dataclasses import dataclass
from itertools import count
from typing import TypeVar

from posewatch.core.sensor_choice import SensorChoice
from posewatch.core.sensor_link import Phase
from posewatch.core.sensor_use import SensorUse
from posewatch.core.trainer_cadence import why_not_raise
from posewatch.core.trainer_records import SWITCH_OFF
from posewatch.core.trainer_state import ControlLimits, ControlState, Stage
from posewatch.core.watch_plan import WatchPlan
from posewatch.errors import BadInput
from posewatch.opening_sensors import feed_of
from posewatch.runtime import clock
from posewatch.runtime.read_ahead import GaveUp
from posewatch.sensing import LiveSensors
from posewatch.sensors.calls import CallFailed, RadioBlocked
from posewatch.sensors.effort_feed import EffortFeed

T = TypeVar("T")

#: A trainer may take so long to be found and to give its first value.
LIVE_S = 30.0
#: The longest that the sensors' thread may take for one call.
LONGEST_S = 30.0
#: How often it is looked at what is waited for.
LOOK_S = 0.2
#: A cadence that is told is heard within so many looks.
LOOKS_BEFORE_TOLD = 8


@dataclass(frozen=True, slots=True)
class Operator:
    """Who is asked and told. confirm: whether the operator says yes to a raise of the power."""

    confirm: Callable[[str], bool]
    tell: Callable[[str], None]


@contextmanager
def open_holding(
    use: SensorUse, plan: WatchPlan, operator: Operator, stop: threading.Event
) -> Iterator[EffortFeed]:
    """Open the live sensors of a watch, and let its trainer hold the planned power meanwhile.

    Whatever ends the watch, the trainer is let go first.

    Raises:
        BadInput: it gives no values, cannot be controlled, or the raise was not confirmed.
        GaveUp: stop was set before it held.
    """
    assert plan.power_w is not None
    trainer = use.choice(use.trainer)
    with closing(LiveSensors(use.choices)) as sensors:
        try:
            _wait_until_live(sensors, trainer, operator, stop)
            state = _held(sensors, trainer, plan, operator, stop)
            operator.tell(state.text)
            yield feed_of(sensors, use)
        finally:
            _let_go(sensors, trainer, operator)


def not_held(state: ControlState) -> BadInput:
    """Return why a trainer is not held, with what to do if the pedals stay heavy."""
    return BadInput(state.text, "" if SWITCH_OFF in state.text else SWITCH_OFF)


def done(future: Future[T]) -> T:
    """Wait for what the sensors' thread does.

    Raises:
        BadInput: the sensor could not be asked.
    """
    try:
        return future.result(LONGEST_S)
    except (CallFailed, RadioBlocked, TimeoutError) as error:
        raise BadInput(
            f"The sensor could not be controlled ({error}).",
            "See that it is awake, in reach, of the right kind, and free of other programs.",
        ) from error


def _wait_until_live(
    sensors: LiveSensors, trainer: SensorChoice, operator: Operator, stop: threading.Event
) -> None:
    operator.tell(f"{trainer.name} is looked for.")
    text = ""
    end_ns = clock.monotonic_ns() + int(LIVE_S * 1e9)
    while True:
        for status in sensors.statuses():
            if trainer.name in (status.choice.name, status.choice.platform_id):
                if status.phase is Phase.LIVE:
                    return
                text = status.text
        if clock.monotonic_ns() >= end_ns:
            raise BadInput(f"{trainer.name} gives no values.", text)
        _pause(stop)


def _held(
    sensors: LiveSensors,
    trainer: SensorChoice,
    plan: WatchPlan,
    operator: Operator,
    stop: threading.Event,
) -> ControlState:
    """Ask for the planned power until it is held; it is confirmed while the cranks turn."""
    assert plan.power_w is not None
    watts = round(plan.power_w)
    state = _ask(sensors, trainer, watts, plan)
    # Cranks that stand are waited for.
    if state.unconfirmed_w is None and (state.fault or state.cadence.rpm is None or _turns(state)):
        raise not_held(state)
    while True:
        for n_looks in count():
            if _turns(state):
                break
            if n_looks == LOOKS_BEFORE_TOLD:
                operator.tell(
                    f"{trainer.name} is there. It is waited until the cranks turn. If they do, no "
                    "sensor tells the cadence: choose one with --cadence-sensor."
                )
            _pause(stop)
            state = sensors.hold_state(trainer)
        state = _ask(sensors, trainer, watts, plan)
        if state.unconfirmed_w is not None:
            if not operator.confirm(state.text):
                raise BadInput("The raise was not confirmed.", "Nothing was sent to the trainer.")
            state = done(sensors.hold_power(trainer, watts, confirmed=True))
        if state.stage is Stage.HOLDING:
            return state
        if state.fault:
            raise not_held(state)
        operator.tell(state.text)  # confirmed too late, or the cranks stand again


def _ask(sensors: LiveSensors, trainer: SensorChoice, watts: int, plan: WatchPlan) -> ControlState:
    return done(sensors.hold_power(trainer, watts, cadence_rpm=plan.cadence_rpm))


def _turns(state: ControlState) -> bool:
    """Tell whether the cranks are known to turn fast enough."""
    limits = ControlLimits().cadence
    now_ns = clock.monotonic_ns()
    return state.cadence.rpm is not None and not why_not_raise(state.cadence, now_ns, limits)


def _let_go(sensors: LiveSensors, trainer: SensorChoice, operator: Operator) -> None:
    if sensors.hold_state(trainer).stage is Stage.OFF:
        return
    try:
        operator.tell(done(sensors.release(trainer)).text)
    except BadInput as problem:
        operator.tell(f"{problem.what} {SWITCH_OFF}")


def _pause(stop: threading.Event) -> None:
    if stop.wait(LOOK_S):
        raise GaveUp
