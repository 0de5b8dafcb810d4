"""``posewatch watch --trainer-holds`` over a software stack instead of a radio."""

from __future__ import annotations

import os
import signal
import struct
from collections.abc import Callable
from functools import partial
from pathlib import Path

import pytest
import typer
from bumble.device import Device
from bumble_backend import VirtualStudio
from command_runs import Ran, Run
from linkage_rider import ride
from made_rides import write_ride
from virtual_sensor import BIKE_DATA, FITNESS_MACHINE, VirtualSensor

from posewatch import app, held_power
from posewatch.core.records import SourceCondition, SourceState
from posewatch.runtime.watch_run import WatchRun
from posewatch.sensing import LiveSensors
from posewatch.sensors import client
from posewatch.sensors.roster import RosterLimits
from posewatch.store.session_reader import SessionReader

REQUEST, STOP, RESET = b"\x00", b"\x08\x01", b"\x01"
SET_200, SET_50 = b"\x05\xc8\x00", b"\x05\x32\x00"
LETTING_GO = [SET_50, STOP, RESET]
BY_ID = ("--trainer-holds", "F1:00:00:00:00:01")


class Studio(VirtualStudio):
    """A trainer that is awake from the first use of Bluetooth on; rpm: at which its cranks turn."""

    rpm = 90
    trainer: VirtualSensor | None = None

    @property
    def written(self) -> list[bytes]:
        """What was written to the trainer."""
        return [] if self.trainer is None else self.trainer.written

    async def computer(self) -> Device:
        first = self.central is None
        computer = await super().computer()
        if first:
            self.trainer = trainer = self.add("Trainer", FITNESS_MACHINE)
            trainer.answer = lambda data: bytes((0x80, data[0], 0x01))
            await trainer.wake()
            trainer.start(BIKE_DATA, self._record, 0.1)
        return computer

    def _record(self, n: int) -> bytes:
        return struct.pack("<HHHh", 0x0044, 3000, 2 * self.rpm, 200 + n % 5)


@pytest.fixture
def studio(monkeypatch: pytest.MonkeyPatch) -> Studio:
    """A studio whose Bluetooth is this computer's."""
    studio = Studio()
    monkeypatch.setattr(client, "SYSTEM", studio.backend)
    # By its name alone a trainer is looked for to the end of a look, lest there be two.
    quick = partial(LiveSensors, limits=RosterLimits(look_s=0.3))
    monkeypatch.setattr(held_power, "LiveSensors", quick)
    return studio


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Whoever sits at the terminal says yes; the questions."""
    asked: list[str] = []

    def confirm(question: str) -> bool:
        asked.append(question)
        return True

    monkeypatch.setattr(typer, "confirm", confirm)
    return asked


@pytest.fixture
def watch(run: Run, tmp_path: Path, target_file: Path) -> Callable[..., Ran]:
    """Watch a short ride, the trainer holding 200 W."""
    ridden = write_ride(tmp_path / "r.landmarks.npz", ride(5.0, seed=6))

    def watch(*more: object) -> Ran:
        return run(
            "watch", "--source", ridden, "--target", target_file, "--fast",
            "--session", tmp_path / "s", "--power", "200", "--power-sensor", BY_ID[1], *more,
        )  # fmt: skip

    return watch


def test_the_planned_power_is_held_for_the_watch_and_let_go_at_its_end(
    run: Run, studio: Studio, watch: Callable[..., Ran], asked: list[str], tmp_path: Path
) -> None:
    ran = watch("--power-sensor", "Trainer", "--trainer-holds", "Trainer")
    assert (ran.status, ran.err) == (0, "")
    assert studio.written == [REQUEST, SET_200, *LETTING_GO]
    assert len(asked) == 1
    assert "from 0 to 200 W" in asked[0]
    said = ran.out
    lines = ("must be pedalling", "The trainer holds 200 W.", "The trainer is let go.", "counted ")
    places = [said.index(line) for line in lines]
    assert places == sorted(places)
    with SessionReader(tmp_path / "s") as session:
        assert session.header.plan.trainer_holds_power
        assert session.header.sensors.trainer == "Trainer"
        states = [item for _, item in session.inputs() if isinstance(item, SourceState)]
    held = [one for one in states if one.source == "power hold of Trainer"]
    assert [(one.t_ns, one.condition) for one in held] == [(0, SourceCondition.RUNNING)]
    shown = run("session", "show", tmp_path / "s")
    assert "sensors: power from Trainer, power held by Trainer" in shown.out


def test_without_the_operator_s_yes_nothing_is_sent_or_left_behind(
    studio: Studio, watch: Callable[..., Ran], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(typer, "confirm", lambda _: False)
    ran = watch(*BY_ID)
    assert ran.status == 2
    assert "The raise was not confirmed. Nothing was sent" in ran.err
    assert studio.written == []
    assert not (tmp_path / "s").exists()


def test_nothing_is_asked_before_the_cranks_turn(
    studio: Studio, watch: Callable[..., Ran], asked: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    studio.rpm = 0
    waited: list[bool] = []
    pause = held_power._pause

    def begin_to_pedal(stop: object) -> None:
        waited.append(not asked)
        if len(waited) == 6:
            studio.rpm = 90
        pause(stop)

    monkeypatch.setattr(held_power, "_pause", begin_to_pedal)
    monkeypatch.setattr(held_power, "LOOKS_BEFORE_TOLD", 1)
    ran = watch(*BY_ID)
    assert ran.status == 0
    assert "waited until the cranks turn" in ran.out
    assert len(waited) >= 6
    assert all(waited)
    assert studio.written[:2] == [REQUEST, SET_200]


def test_an_end_from_outside_while_it_waits_ends_the_watch(
    studio: Studio, watch: Callable[..., Ran], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    studio.rpm = 0

    def told(stop: object) -> None:
        os.kill(os.getpid(), signal.SIGTERM)
        pause(stop)

    pause = held_power._pause
    monkeypatch.setattr(held_power, "_pause", told)
    ran = watch(*BY_ID)
    assert (ran.status, ran.last_line) == (0, "stopped before anything was watched")
    assert studio.written == []
    assert not (tmp_path / "s").exists()


@pytest.mark.parametrize("how", ["fault", "stop"])
def test_however_a_watch_ends_the_trainer_is_let_go(
    studio: Studio,
    watch: Callable[..., Ran],
    asked: list[str],
    monkeypatch: pytest.MonkeyPatch,
    how: str,
) -> None:
    def follow(_: WatchRun) -> None:
        if how == "fault":
            raise RuntimeError("anything")
        os.kill(os.getpid(), signal.SIGTERM)

    monkeypatch.setattr(app.WatchRun, "follow", follow)
    if how == "fault":
        with pytest.raises(RuntimeError, match="anything"):
            watch(*BY_ID)
    else:
        assert watch(*BY_ID).status == 0
    assert studio.written[2:] == LETTING_GO


def test_a_trainer_that_is_not_there_is_an_error(
    studio: Studio, watch: Callable[..., Ran], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(held_power, "LIVE_S", 0.3)
    ran = watch("--trainer-holds", "Nobody")
    assert ran.status == 2
    assert "Nobody gives no values. Nobody is searched for." in " ".join(ran.err.split())


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (("--power", "450"), "450 W cannot be held: give 25 to 400 W"),
        (("--sensors", "ride.jsonl"), "Recorded sensors cannot be told to hold a power."),
    ],
)
def test_what_cannot_be_held_is_refused(
    studio: Studio, watch: Callable[..., Ran], more: tuple[str, ...], said: str
) -> None:
    ran = watch(*BY_ID, *more)
    assert ran.status == 2
    assert said in " ".join(ran.err.split())


def test_a_trainer_needs_a_planned_power(run: Run, tmp_path: Path, target_file: Path) -> None:
    ran = run("watch", "--source", "r", "--target", target_file, "--trainer-holds", "Trainer")
    assert ran.status == 2
    assert "no power for the trainer to hold" in ran.err
