"""``posewatch sensors zero`` and ``hold`` over a software stack instead of a radio."""

from __future__ import annotations

import asyncio
import os
import signal
import threading
from collections.abc import Callable

import pytest
import typer
from bumble.device import Device
from bumble_backend import VirtualStudio
from command_runs import Run
from virtual_sensor import (
    BIKE_DATA,
    FITNESS_MACHINE,
    POWER,
    POWER_MEASUREMENT,
    TRAINER_STATUS,
    VirtualSensor,
    bike_data,
    pedalling_power,
)

from posewatch.cli import sensors as commands
from posewatch.cli import sensors_control
from posewatch.sensors import client

Answer = Callable[[bytes], bytes | None]

LETTING_GO = [b"\x05\x32\x00", b"\x08\x01", b"\x01"]


class Studio(VirtualStudio):
    """A trainer and a meter that are awake from the first use of Bluetooth on."""

    def __init__(self) -> None:
        super().__init__()
        self.trainer_answer: Answer = lambda data: bytes((0x80, data[0], 0x01))
        self.meter_answer: Answer = lambda _: b"\x20\x0c\x01\x40\x01"

    async def computer(self) -> Device:
        first = self.central is None
        computer = await super().computer()
        if first:
            # Made on the loop that uses them.
            self.trainer = self.add("Trainer", FITNESS_MACHINE)
            self.meter = self.add("Meter", POWER)
            self.trainer.answer, self.meter.answer = self.trainer_answer, self.meter_answer
            await self._start(self.trainer, BIKE_DATA, bike_data)
            await self._start(self.meter, POWER_MEASUREMENT, pedalling_power)
        return computer

    async def _start(
        self, sensor: VirtualSensor, number: int, data: Callable[[int], bytes]
    ) -> None:
        await sensor.wake()
        sensor.start(number, data, 0.1)


@pytest.fixture
def studio(monkeypatch: pytest.MonkeyPatch) -> Studio:
    """A studio whose Bluetooth is this computer's."""
    studio = Studio()
    monkeypatch.setattr(client, "SYSTEM", studio.backend)
    monkeypatch.setattr(commands, "LOOK_UP_S", 0.3)
    return studio


def answer_with(monkeypatch: pytest.MonkeyPatch, yes: bool) -> list[str]:
    """Answer every question so; returns the questions."""
    asked: list[str] = []

    def confirm(question: str, abort: bool) -> None:
        assert abort
        asked.append(question)
        if not yes:
            raise typer.Abort

    monkeypatch.setattr(typer, "confirm", confirm)
    return asked


def test_a_meter_is_zeroed_and_told(
    run: Run, studio: Studio, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = answer_with(monkeypatch, yes=True)
    ran = run("sensors", "zero", "meter")
    assert ran.status == 0
    assert "feet off the pedals" in asked[0]
    assert studio.meter.written == [b"\x0c"]
    # The virtual meter's features say that it measures force.
    assert ran.last_line == "Zero offset of Meter: 320 N (raw 320)."


def test_a_meter_that_refuses_is_an_error(run: Run, studio: Studio) -> None:
    studio.meter_answer = lambda _: b"\x20\x0c\x04"
    ran = run("sensors", "zero", "Meter", "--yes")
    assert ran.status == 2
    assert "cranks moved" in ran.out
    assert "was not zeroed" in ran.err


def test_a_hold_shows_cautions_asks_and_lets_go(
    run: Run, studio: Studio, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = answer_with(monkeypatch, yes=True)
    ran = run("sensors", "hold", "Trainer", "--power", "150", "--seconds", "0.5")
    assert ran.status == 0
    assert ran.out.index("must be pedalling") < ran.out.index("The trainer holds 150 W.")
    assert len(asked) == 1
    assert studio.trainer.written == [b"\x00", b"\x05\x96\x00", *LETTING_GO]
    assert ran.last_line == "The trainer is let go."


def test_without_a_confirmation_nothing_is_sent(
    run: Run, studio: Studio, monkeypatch: pytest.MonkeyPatch
) -> None:
    answer_with(monkeypatch, yes=False)
    assert run("sensors", "hold", "Trainer", "--power", "150").status == 1
    assert studio.trainer.written == []


def test_a_power_out_of_range_is_refused(run: Run, studio: Studio) -> None:
    ran = run("sensors", "hold", "Trainer", "--power", "450")
    assert ran.status == 2
    assert "25 to 400 W" in ran.err
    assert studio.trainer.written == []


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_ctrl_c_or_an_end_from_outside_lets_go(
    run: Run, studio: Studio, monkeypatch: pytest.MonkeyPatch, number: signal.Signals
) -> None:
    answer_with(monkeypatch, yes=True)
    before = signal.getsignal(number)

    def wait(_: object, __: object, stop: threading.Event, ___: object) -> None:
        os.kill(os.getpid(), number)
        assert stop.wait(5.0)

    monkeypatch.setattr(sensors_control, "_wait", wait)
    ran = run("sensors", "hold", "Trainer", "--power", "150")
    assert ran.status == 0
    assert studio.trainer.written[2:] == LETTING_GO
    assert signal.getsignal(number) is before


def test_a_fault_while_waiting_lets_go(
    run: Run, studio: Studio, monkeypatch: pytest.MonkeyPatch
) -> None:
    answer_with(monkeypatch, yes=True)

    def broken(*_: object) -> None:
        raise ValueError("anything")

    monkeypatch.setattr(sensors_control, "_wait", broken)
    with pytest.raises(ValueError, match="anything"):
        run("sensors", "hold", "Trainer", "--power", "150")
    assert studio.trainer.written[2:] == LETTING_GO


def test_a_trainer_that_is_stopped_at_its_own_controls_ends_the_rehearsal(
    run: Run, studio: Studio, monkeypatch: pytest.MonkeyPatch
) -> None:
    answer_with(monkeypatch, yes=True)
    sending: list[asyncio.Task[None]] = []

    async def stop_there() -> None:
        await asyncio.sleep(0.2)
        await studio.trainer.send(TRAINER_STATUS, b"\x02\x01")

    def answer(data: bytes) -> bytes:
        if data == b"\x05\x96\x00":
            sending.append(asyncio.get_running_loop().create_task(stop_there()))
        return bytes((0x80, data[0], 0x01))

    studio.trainer_answer = answer
    ran = run("sensors", "hold", "Trainer", "--power", "150")
    assert ran.status == 2
    assert "stopped at its own controls" in ran.err
    assert studio.trainer.written[2:] == LETTING_GO


def test_a_trainer_that_gives_no_control_is_an_error(
    run: Run, studio: Studio, monkeypatch: pytest.MonkeyPatch
) -> None:
    answer_with(monkeypatch, yes=True)
    studio.trainer_answer = lambda data: bytes((0x80, data[0], 0x05))
    ran = run("sensors", "hold", "Trainer", "--power", "150")
    assert ran.status == 2
    assert "another program has control" in ran.err
    assert studio.trainer.written == [b"\x00"]


def test_a_sensor_that_is_no_trainer_is_refused(run: Run, studio: Studio) -> None:
    ran = run("sensors", "hold", "Meter", "--power", "150")
    assert ran.status == 2
    assert "no control point" in ran.err


def test_one_that_gives_no_values_is_an_error(
    run: Run, studio: Studio, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sensors_control, "LIVE_S", 0.3)
    ran = run("sensors", "zero", "Nobody")
    assert ran.status == 2
    assert "Nobody gives no values." in ran.err
