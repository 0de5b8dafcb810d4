"""The zero offset at the operator's keys: asked for, taken, logged, warned of inside a pair."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from exact_rider import target
from idle_engine import idle_studio
from made_live_sensors import AnsweringSensors
from made_operator_scenes import BEGUN_NS, of_watch, said, scene, stands
from made_sensors import CRANK, OTHER, SPEEDO, pedalled

from posewatch.core.meter_offset import (
    HOW,
    ComparisonBegan,
    OffsetAnswer,
    PairBegan,
    PairEnded,
    RidingBegan,
)
from posewatch.core.outputs import Phase, StrokeJudged
from posewatch.core.records import NS_PER_S, Verdict
from posewatch.core.sensor_records import Packet
from posewatch.core.sensor_use import SensorUse
from posewatch.sensors.meter_zero import Zeroed
from posewatch.sensors.sensor_link import SensorStatus
from posewatch.studio import Doing
from posewatch.ui.health_view import Level
from posewatch.ui.operator_meter import NO_METER, MeterActs
from posewatch.ui.scene import Scene

#: Bit 9 of 2A65, Cycling Power Feature: offset compensation (Bluetooth SIG, GATT Specification
#: Supplement); made from it, not from the program's own number.
BY_RADIO = (1 << 9).to_bytes(4, "little")
STROKE = StrokeJudged(0, 1, Verdict.GOOD, False, Phase.STEADYING, (), None)
LINE = "Zero offset of Crank: -12.50 N m (raw -400)."
TAKEN = Zeroed(OffsetAnswer(True, -400), (LINE,))


def meter(of: object = CRANK, feature: bytes | None = BY_RADIO) -> SensorStatus:
    """Return a power meter whose features are these, None = it does not say."""
    found = pedalled(of, 0)  # type: ignore[arg-type]
    last = {name: packet for name, packet in found.last.items() if name != "2A65"}
    if feature is not None:
        last["2A65"] = Packet(1, found.choice.platform_id, "2A65", feature)
    return replace(found, last=last)


class Sitting:
    """An operator, and meters that answer when the test says so."""

    def __init__(self, folder: Path, *meters: SensorStatus) -> None:
        self.said: list[tuple[str, Level]] = []
        self.studio, self.engine = idle_studio(folder, target())
        self.live = AnsweringSensors(*(meters or (meter(),)))
        power, other = CRANK.platform_id, OTHER.platform_id
        self.studio.choose(sensors=SensorUse(power, SPEEDO.platform_id, other))
        self.studio.live = self.live  # type: ignore[assignment]
        self.acts = MeterActs(self.studio, self._note)
        self.seconds = 0.0

    def _note(self, text: str, level: Level = Level.WARN) -> None:
        self.said.append((text, level))

    def follow(self, now: Scene, seconds: float = 0.1) -> None:
        self.seconds += seconds
        at_ns = BEGUN_NS + round(self.seconds * NS_PER_S)
        self.acts.follow(replace(now, monotonic_ns=at_ns))

    def trial(self, counted: int = 60) -> None:
        """A trial is ridden, from its beginning to its end."""
        self.studio.watch()
        self.follow(of_watch(stands(Phase.STEADYING, counted=0), said=(said(STROKE),)))
        self.follow(of_watch(stands(counted=counted)))
        self.studio.end()
        self.engine.finish()
        self.follow(scene(Doing.NOTHING, moment=None))

    def warm(self) -> None:
        """The meter says that it is warm."""
        self.follow(scene(Doing.NOTHING, moment=None), 2.5)
        self.live.answer(None, ("Crank is warm.",))
        self.follow(scene(Doing.NOTHING, moment=None))

    def take(self, zeroed: Zeroed = TAKEN) -> None:
        """The question is answered with yes, and the meter answers."""
        assert self.acts.question is not None
        self.acts.question.on_yes()
        assert self.acts.question is None
        self.live.answer(self.live.told()[-1], zeroed)
        self.follow(scene(Doing.NOTHING, moment=None))


@pytest.fixture
def sitting(tmp_path: Path) -> Sitting:
    return Sitting(tmp_path)


def test_the_meter_is_told_that_the_rider_rides_and_time_passes(sitting: Sitting) -> None:
    sitting.studio.watch()
    sitting.follow(of_watch(stands(Phase.STEADYING)))
    assert sitting.live.told() == []
    for _ in range(3):
        sitting.follow(of_watch(stands(Phase.STEADYING), said=(said(STROKE),)))
    assert sitting.live.told() == [RidingBegan()]
    for _ in range(100):
        sitting.follow(of_watch(stands()))
    ticks = [what for what, _ in sitting.live.asked if what is None]
    assert len(ticks) == 6  # in 10.4 s: at once, and then every 2 s


def test_once_warm_the_operator_is_asked_and_the_offset_taken(sitting: Sitting) -> None:
    sitting.trial()
    sitting.warm()
    question = sitting.acts.question
    assert question is not None
    assert question.words == f"Crank is warm: take the zero offset now. {HOW}"
    assert (question.yes, question.no) == ("take it", "later")
    sitting.take()
    assert sitting.live.told()[-1] == "zero Crank"
    assert sitting.said == [(LINE, Level.WELL)]


def test_an_offset_taken_between_trials_is_logged_with_the_next(sitting: Sitting) -> None:
    sitting.acts.ask()
    sitting.take()
    assert sitting.studio._to_log == [LINE]


def test_in_a_trial_what_the_meter_says_is_logged_by_itself(sitting: Sitting) -> None:
    sitting.studio.watch()
    sitting.acts.ask()
    warning = "Crank is not warm yet (8 min to go)."
    sitting.take(Zeroed(OffsetAnswer(True, -400), (warning, LINE)))
    assert sitting.said == [(warning, Level.WARN)]
    assert sitting.studio._to_log == []


@pytest.mark.parametrize("watching", [True, False])
def test_an_offset_that_has_changed_is_warned_of(sitting: Sitting, watching: bool) -> None:
    if watching:
        sitting.studio.watch()
    sitting.acts.ask()
    changed = "It changed by +0.50 N m since the last time: compare no power across it."
    sitting.take(Zeroed(OffsetAnswer(True, -384), (f"{LINE} {changed}",)))
    assert sitting.said == [(changed if watching else f"{LINE} {changed}", Level.WARN)]


def test_put_off_it_is_not_asked_again_by_itself(sitting: Sitting) -> None:
    sitting.warm()
    assert sitting.acts.question is not None
    sitting.acts.question.on_no()
    for _ in range(100):
        sitting.follow(scene(Doing.NOTHING, moment=None))
    assert sitting.acts.question is None
    sitting.acts.ask()
    assert sitting.acts.question is not None


def test_inside_a_pair_it_is_warned_of_and_taken_only_all_the_same(sitting: Sitting) -> None:
    sitting.trial()
    sitting.warm()
    sitting.take()
    sitting.trial()
    assert sitting.live.told()[-1] == PairBegan()
    sitting.acts.ask()
    warning = "Do not zero Crank now: ride the second mounting first."
    sitting.take(Zeroed(None, (warning,)))
    question = sitting.acts.question
    assert question is not None
    assert (question.words, question.yes, question.no) == (
        warning,
        "take it all the same",
        "leave it",
    )
    question.on_no()
    assert sitting.acts.question is None
    sitting.acts.ask()
    sitting.take(Zeroed(None, (warning,)))
    assert sitting.acts.question is not None
    sitting.acts.question.on_yes()
    assert sitting.live.told()[-1] == "zero Crank all the same"


def test_after_a_pair_the_next_comparison_asks_anew(sitting: Sitting) -> None:
    sitting.trial()
    sitting.warm()
    sitting.take()
    sitting.trial()
    sitting.trial()
    assert sitting.live.told()[-2:] == [PairEnded(), ComparisonBegan()]
    sitting.live.answer(ComparisonBegan(), ("Crank is warm.",))
    sitting.follow(scene(Doing.NOTHING, moment=None))
    assert sitting.acts.question is not None


def test_an_offset_that_was_taken_cold_begins_no_pair(sitting: Sitting) -> None:
    sitting.trial(counted=0)
    sitting.acts.ask()
    sitting.take()
    sitting.trial()
    assert PairBegan() not in sitting.live.told()


def test_what_a_pair_begun_without_an_offset_means_is_said(sitting: Sitting) -> None:
    sitting.warm()
    assert sitting.acts.question is not None
    sitting.acts.question.on_no()
    sitting.trial()
    sitting.live.answer(PairBegan(), ("It was not taken before this pair.",))
    sitting.follow(scene(Doing.NOTHING, moment=None))
    assert sitting.said == [("It was not taken before this pair.", Level.WARN)]
    assert sitting.acts.question is None


def test_a_meter_that_refuses_or_cannot_be_reached_is_said(sitting: Sitting) -> None:
    sitting.acts.ask()
    refused = "The zero offset of Crank was not taken: it refused."
    sitting.take(Zeroed(OffsetAnswer(False, why="it refused"), (refused,)))
    assert sitting.said == [(refused, Level.WARN)]
    sitting.acts.ask()
    assert sitting.acts.question is not None
    sitting.acts.question.on_yes()
    sitting.live.fail("zero Crank", OSError("it gives no values"))
    sitting.follow(scene(Doing.NOTHING, moment=None))
    assert sitting.said[-1][0] == "The zero offset of Crank was not taken: it gives no values."


def test_a_meter_without_the_offset_by_radio_is_zeroed_by_hand(tmp_path: Path) -> None:
    sitting = Sitting(tmp_path, meter(feature=bytes(4)))
    sitting.acts.ask()
    question = sitting.acts.question
    assert question is not None
    assert "Crank: not by radio; zero it as its maker says" in question.words
    assert question.yes == "it is done"
    question.on_yes()
    assert sitting.live.told() == []
    assert sitting.studio._to_log == ["Zero offset of Crank: taken by hand."]


def test_both_of_a_pair_of_meters_are_zeroed(tmp_path: Path) -> None:
    sitting = Sitting(tmp_path, meter(), meter(OTHER, feature=None))
    sitting.acts.ask()
    assert sitting.acts.question is not None
    assert "Crank and Other crank" in sitting.acts.question.words
    sitting.acts.question.on_yes()
    assert sitting.live.told() == ["zero Crank", "zero Other crank"]


def test_without_a_meter_there_is_nothing_to_zero(tmp_path: Path) -> None:
    sitting = Sitting(tmp_path, replace(meter(SPEEDO), services=SPEEDO.services))
    assert not sitting.acts.is_there
    sitting.acts.ask()
    assert sitting.said == [(NO_METER, Level.WARN)]
    sitting.studio.live = None
    sitting.trial()
    assert sitting.live.told() == []
