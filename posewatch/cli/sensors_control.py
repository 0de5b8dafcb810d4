"""``posewatch sensors zero`` and ``hold``: a meter's zero offset, a trainer's power rehearsed."""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from posewatch.core.sensor_choice import SensorChoice
    from posewatch.sensing import LiveSensors

#: A sensor may take so long to be found and to give its first value.
LIVE_S = 20.0
#: How often the state of a hold is looked at.
LOOK_S = 0.2

Name = Annotated[str, typer.Argument(help="Name or id of the sensor.")]


def zero(
    name: Name,
    unloaded: Annotated[
        bool, typer.Option("--yes", help="Do not ask whether the cranks are unloaded.")
    ] = False,
) -> None:
    """Take the zero offset of a power meter."""
    from contextlib import closing

    from posewatch.cli.screen import say
    from posewatch.cli.setup import begin
    from posewatch.core.meter_offset import HOW
    from posewatch.errors import BadInput
    from posewatch.held_power import done
    from posewatch.sensing import LiveSensors

    say("Take the offset once the meter is warm, about ten minutes of riding, and never between")
    say("two mountings that are compared.")
    with begin(), closing(LiveSensors()) as sensors:
        choice = _live(sensors, name)
        if not unloaded:
            typer.confirm(f"{HOW} Done?", abort=True)
        zeroed = done(sensors.zero_offset(choice))
        for line in zeroed.said:
            say(line)
        if zeroed.answer is None or not zeroed.answer.done:
            raise BadInput(
                f"{name} was not zeroed.", "Its power is as before; see above what to do."
            )


def hold(
    name: Name,
    power: Annotated[int, typer.Option(help="The power to hold, in W.")],
    seconds: Annotated[
        float | None, typer.Option(min=0.5, help="Let go after so long; else with Ctrl-C.")
    ] = None,
) -> None:
    """Rehearse a trainer that holds the power; it is let go on Ctrl-C and on any fault."""
    from contextlib import closing

    from posewatch.cli.screen import say
    from posewatch.cli.setup import begin
    from posewatch.core.trainer_state import Stage
    from posewatch.held_power import done, not_held
    from posewatch.sensing import LiveSensors

    say_trainer_cautions()
    with begin(), closing(LiveSensors()) as sensors:
        choice = _live(sensors, name)
        # It is not held yet: every raise from nothing but a small one is asked about here.
        state = done(sensors.hold_power(choice, power))
        confirmed = state.unconfirmed_w is not None
        if confirmed:
            say(state.text)
            typer.confirm("The rider is told and pedals. Raise it now?", abort=True)
        with stoppable() as stop:
            try:
                if confirmed:
                    state = done(sensors.hold_power(choice, power, confirmed=True))
                if state.stage is not Stage.HOLDING:
                    raise not_held(state)
                say(f"{state.text} Ctrl-C lets go.")
                _wait(sensors, choice, stop, seconds)
            finally:
                say(done(sensors.release(choice)).text)


def say_trainer_cautions() -> None:
    """Print what must be known before a trainer holds the power."""
    from posewatch.cli.screen import say
    from posewatch.core.trainer_records import CAUTIONS, CAUTIONS_TITLE

    say(CAUTIONS_TITLE)
    for caution in CAUTIONS:
        say(f"  - {caution}")


def _live(sensors: LiveSensors, name: str) -> SensorChoice:
    """Use a sensor and wait until it gives values.

    Raises:
        BadInput: it does not in time.
    """
    from posewatch.cli.sensors import choose
    from posewatch.core.sensor_link import Phase
    from posewatch.errors import BadInput
    from posewatch.runtime import clock

    (choice,) = choose(sensors, [name])
    sensors.use(choice)
    end_ns = clock.monotonic_ns() + int(LIVE_S * 1e9)
    while clock.monotonic_ns() < end_ns:
        for status in sensors.statuses():
            if status.phase is Phase.LIVE:
                return status.choice
        clock.wait_until(clock.monotonic_ns() + int(LOOK_S * 1e9), threading.Event())
    text = " ".join(status.text for status in sensors.statuses())
    raise BadInput(f"{name} gives no values.", text or "Choose it again.")


def _wait(
    sensors: LiveSensors, choice: SensorChoice, stop: threading.Event, seconds: float | None
) -> None:
    """Wait until the hold is to end.

    Raises:
        BadInput: the trainer was let go, or let go itself.
    """
    from posewatch.core.trainer_state import Stage
    from posewatch.held_power import not_held
    from posewatch.runtime import clock

    end_ns = None if seconds is None else clock.monotonic_ns() + int(seconds * 1e9)
    while not stop.wait(LOOK_S):
        state = sensors.hold_state(choice)
        if state.stage is not Stage.HOLDING:
            raise not_held(state)
        if end_ns is not None and clock.monotonic_ns() >= end_ns:
            return


@contextmanager
def stoppable() -> Iterator[threading.Event]:
    """Give an event that Ctrl-C, or an end asked for from outside, sets instead of killing us."""
    stop = threading.Event()
    wanted = (signal.SIGINT, signal.SIGTERM)
    before = {one: signal.signal(one, lambda *_: stop.set()) for one in wanted}
    try:
        yield stop
    finally:
        for one, handler in before.items():
            signal.signal(one, handler)
