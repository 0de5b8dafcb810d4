"""Finding and trying sensors: nothing is opened unasked, nothing waited for, all let go of."""

from __future__ import annotations

import threading
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from made_sensors import CRANK, OTHER, SPEEDO, StillSensors, pedalled, status

from posewatch.core.records import NS_PER_S
from posewatch.core.sensor_link import Phase
from posewatch.sensors.roster import Survey
from posewatch.ui.sensor_desk import SensorDesk
from posewatch.ui.sensor_plan import SensorPlan

USED = SensorPlan(power=CRANK.choice)


@dataclass
class Sitting:
    """A desk on sensors that do as the test says."""

    air: StillSensors = field(default_factory=StillSensors)
    n_opened: int = 0
    now_ns: int = 100 * NS_PER_S
    desk: SensorDesk = field(init=False)

    def __post_init__(self) -> None:
        self.desk = SensorDesk(self.open)

    def open(self) -> StillSensors:
        self.n_opened += 1
        return self.air

    def poll(self, plan: SensorPlan | None = None, may_connect: bool = True) -> None:
        self.now_ns += NS_PER_S
        self.desk.follow(SensorPlan() if plan is None else plan, may_connect, self.now_ns)

    def names(self) -> list[str]:
        return [one.choice.name for one in self.desk.rows]


@pytest.fixture
def it() -> Sitting:
    return Sitting()


def closed() -> None:
    """Wait until no closing thread is left."""
    for thread in threading.enumerate():
        if thread.name == "sensors closing":
            thread.join(5.0)
            assert not thread.is_alive()


def test_without_sensors_nothing_is_opened(it: Sitting) -> None:
    for _ in range(5):
        it.poll()
    it.poll(USED, may_connect=False)
    it.poll(SensorPlan(CRANK.choice, recording=Path("ride.jsonl")))
    assert it.n_opened == 0
    gone: list[bool] = []
    it.desk.close(lambda: gone.append(True))
    assert gone == [True]


def test_a_scan_shows_what_it_hears_at_once_and_sorts_it_at_its_end(it: Sitting) -> None:
    it.desk.scan()
    it.desk.scan()
    it.air.hear(OTHER, CRANK, OTHER)
    it.poll()
    assert it.air.done == ["survey"]
    assert (it.names(), it.desk.is_scanning) == (["Other crank", "Crank"], True)
    it.air.end_scan(Survey((CRANK, OTHER)))
    it.poll()
    assert (it.names(), it.desk.is_scanning) == (["Crank", "Other crank"], False)
    assert it.desk.words == "2 sensors heard."


def test_without_bluetooth_it_says_so_and_a_new_scan_tries_again(it: Sitting) -> None:
    it.desk.scan()
    it.air.end_scan(Survey(obstacle=Phase.OFF))
    it.poll()
    assert it.desk.words.startswith("Bluetooth is switched off.")
    it.desk.scan()
    it.air.fail_scan(RuntimeError("E7"))
    it.poll()
    assert "E7" in it.desk.words
    it.desk.scan()
    it.air.end_scan(Survey((CRANK,)))
    it.poll()
    assert it.desk.words == "1 sensor heard."
    assert it.n_opened == 1


def test_bluetooth_that_cannot_even_be_opened_is_told_and_not_tried_at_every_poll() -> None:
    tries: list[int] = []

    def broken() -> StillSensors:
        tries.append(1)
        raise OSError("no bus")

    desk = SensorDesk(broken)
    desk.scan()
    for second in range(5):
        desk.follow(USED, True, second * NS_PER_S)
    assert "no bus" in desk.words
    assert desk.words.endswith("You can go on without sensors.")
    assert len(tries) == 1


def test_the_picked_sensor_is_connected_until_another_is_picked(it: Sitting) -> None:
    for one in (CRANK.choice, SPEEDO.choice, None):
        it.desk.pick(one)
        it.poll()
        it.poll()
    assert it.air.done == ["use Crank", "forget Crank", "use Cadence", "forget Cadence"]
    assert it.desk.card is None


def test_a_chosen_sensor_stays_connected_whatever_is_picked(it: Sitting) -> None:
    it.desk.pick(CRANK.choice)
    it.poll(USED)
    it.desk.pick(None)
    it.poll(USED)
    assert it.air.done == ["use Crank"]
    it.poll()
    assert it.air.done == ["use Crank", "forget Crank"]


def test_its_values_are_live_before_it_is_used(it: Sitting) -> None:
    it.desk.pick(CRANK.choice)
    it.poll()
    for turns in (1, 2, 3):
        it.air.stands[CRANK.platform_id] = pedalled(CRANK, it.now_ns + NS_PER_S, turns=turns)
        it.poll()
    assert it.desk.card is not None
    assert (it.desk.card.value, it.desk.card.age) == ("210 W, 60.0 rpm", "0.0 s ago")
    for _ in range(4):
        it.poll()
    assert (it.desk.card.value, it.desk.card.age) == ("- W, - rpm", "4.0 s ago")


def test_counters_of_two_connections_are_not_mixed(it: Sitting) -> None:
    it.desk.pick(CRANK.choice)
    it.poll()
    gone = status(CRANK, Phase.LOST, "It was lost.")
    for turns, is_there in ((1, True), (2, False), (90, True)):
        stands = pedalled(CRANK, it.now_ns + NS_PER_S, turns=turns)
        it.air.stands[CRANK.platform_id] = stands if is_there else gone
        it.poll()
    assert it.desk.card is not None
    assert it.desk.card.value == "210 W"


def test_what_is_shown_changes_at_most_twice_a_second(it: Sitting) -> None:
    it.desk.pick(CRANK.choice)
    seen = set()
    for poll in range(60):
        now_ns = 200 * NS_PER_S + poll * NS_PER_S // 30
        it.air.stands[CRANK.platform_id] = pedalled(CRANK, now_ns, power_w=100 + poll)
        it.desk.follow(USED, True, now_ns)
        seen.add(it.desk.card)
    assert 3 <= len(seen) <= 5


def test_readiness_hears_how_a_chosen_sensor_stands(it: Sitting) -> None:
    it.poll(USED)
    assert it.desk.live() == {}
    it.air.stands[CRANK.platform_id] = status(CRANK, Phase.SILENT, "Turn the cranks.")
    assert list(it.desk.live().values()) == [(False, "Turn the cranks.")]
    it.air.stands[CRANK.platform_id] = pedalled(CRANK, it.now_ns)
    assert list(it.desk.live().values()) == [(True, "")]


def test_letting_go_is_not_waited_for_and_nothing_is_opened_meanwhile(it: Sitting) -> None:
    it.air.may_close.clear()
    it.desk.scan()
    it.poll(USED)
    gone: list[bool] = []
    it.desk.close(lambda: gone.append(True))
    it.desk.close()
    it.desk.scan()
    it.poll(USED)
    assert (gone, it.n_opened, it.desk.is_open) == ([], 1, False)
    it.air.may_close.set()
    closed()
    it.poll(USED)
    assert gone == [True]
    assert it.air.done[-1] == "close on sensors closing"
    assert it.n_opened == 1
    it.poll(USED)
    assert it.n_opened == 2
    it.desk.close()
    closed()
