"""The trainer at the operator's keys: asked for, confirmed, held, let go; faults are seen."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from exact_rider import target
from idle_engine import idle_studio
from made_live_sensors import TRAINER, AnsweringSensors

from posewatch.core.trainer_state import ControlState, Stage
from posewatch.core.watch_plan import WatchPlan
from posewatch.studio import Studio
from posewatch.ui.health_view import Level
from posewatch.ui.operator_trainer import NO_TRAINER, NO_WATCH, TrainerActs

PLAN = WatchPlan(power_w=200.4, cadence_rpm=90.0, trainer_holds_power=True)
WAITS = ControlState(unconfirmed_w=200, text="A raise from 0 to 200 W waits.")
HOLDS = ControlState(stage=Stage.HOLDING, held_w=200, text="The trainer holds 200 W.")
ASKED = "hold 200 at 90.0 by Trainer"


class Hands:
    """An operator's hands on a trainer that answers when the test says so."""

    def __init__(self, folder: Path, watching: bool = True) -> None:
        self.said: list[str] = []
        self.studio, self.engine = idle_studio(folder, target())
        self.live = AnsweringSensors()
        self.studio.choose(plan=PLAN, trainer=TRAINER.choice)
        self.studio.live = self.live  # type: ignore[assignment]
        self.acts = TrainerActs(self.studio, self._note)
        if watching:
            self.studio.watch()

    def _note(self, text: str, level: Level = Level.WARN) -> None:
        self.said.append(text)

    def comes_to(self, state: ControlState) -> None:
        """What was asked last comes to this."""
        self.live.state = state
        self.live.answer(self.live.told()[-1], state)
        self.acts.follow()


@pytest.fixture
def hands(tmp_path: Path) -> Hands:
    return Hands(tmp_path)


def test_asked_for_confirmed_and_let_go(hands: Hands) -> None:
    acts = hands.acts
    item = acts.item()
    assert item is not None
    assert (item.line.split()[-2:], item.level) == (["not", "held"], Level.WARN)
    assert acts.question is None
    acts.toggle()
    assert hands.live.told() == [ASKED]
    hands.comes_to(WAITS)
    question = acts.question
    assert question is not None
    assert (question.words, question.yes) == (WAITS.text, "raise to 200 W")
    question.on_yes()
    assert hands.live.told()[-1] == "confirm 200 by Trainer"
    hands.comes_to(HOLDS)
    assert acts.question is None
    item = acts.item()
    assert item is not None
    assert (item.line, item.level) == ("trainer: holds 200 W", Level.WELL)
    acts.toggle()
    assert hands.live.told()[-1] == "release Trainer"
    assert hands.said == [], "the log tells what the trainer does"


def test_nothing_is_asked_by_itself(hands: Hands) -> None:
    for _ in range(100):
        hands.acts.follow()
    assert hands.live.told() == []


@pytest.mark.parametrize("stage", [one for one in Stage if one is not Stage.OFF])
def test_the_key_lets_go_of_whatever_is_under_way(hands: Hands, stage: Stage) -> None:
    hands.live.state = ControlState(stage=stage)
    hands.acts.toggle()
    assert hands.live.told() == ["release Trainer"]


def test_a_question_declined_or_pressed_away_sends_no_raise(hands: Hands) -> None:
    hands.acts.toggle()
    hands.comes_to(WAITS)
    question = hands.acts.question
    assert question is not None
    question.on_no()
    hands.acts.toggle()
    assert hands.live.told() == [ASKED, "release Trainer", "release Trainer"]


def test_a_raise_that_timed_out_is_not_asked_any_more(hands: Hands) -> None:
    hands.acts.toggle()
    hands.comes_to(WAITS)
    hands.live.state = ControlState(text="The raise was not confirmed in time and is dropped.")
    assert hands.acts.question is None


def test_what_cannot_be_held_is_said(hands: Hands) -> None:
    hands.acts.toggle()
    hands.comes_to(ControlState(text="200 W cannot be held: give 25 to 150 W."))
    assert hands.said == ["200 W cannot be held: give 25 to 150 W."]


def test_a_trainer_that_cannot_be_reached_is_said(hands: Hands) -> None:
    hands.acts.toggle()
    hands.live.fail(ASKED, OSError("the sensor is not connected"))
    hands.acts.follow()
    assert hands.said == ["The trainer is not held: the sensor is not connected."]
    hands.acts.toggle()
    assert hands.live.told() == [ASKED, ASKED], "it can be tried again"


def test_a_fault_stands_in_the_strip_until_it_is_held_again(hands: Hands) -> None:
    hands.live.state = ControlState(fault=True, text="The link was lost.")
    item = hands.acts.item()
    assert item is not None
    assert (item.text, item.level) == ("let go", Level.FAULT)


def test_a_trainer_that_is_not_let_go_after_the_trial_is_told_at_once_and_once(
    hands: Hands,
) -> None:
    hands.live.state = HOLDS
    hands.acts.follow()
    hands.engine.stop()
    hands.engine.finish()
    text = "The trainer did not confirm that it is let go, so its link is ended."
    hands.live.state = ControlState(fault=True, text=text)
    for _ in range(3):
        hands.acts.follow()
    assert hands.said == [text]


def test_a_fault_within_the_trial_is_told_by_the_log_alone(hands: Hands) -> None:
    hands.live.state = ControlState(fault=True, text="The link was lost.")
    hands.acts.follow()
    hands.engine.stop()
    hands.engine.finish()
    hands.acts.follow()
    assert hands.said == []


def test_while_an_answer_is_waited_for_nothing_is_asked_twice(hands: Hands) -> None:
    hands.acts.toggle()
    hands.acts.toggle()
    assert hands.live.told() == [ASKED]


def test_without_a_trial_a_trainer_or_a_power_there_is_nothing_to_hold(tmp_path: Path) -> None:
    idle = Hands(tmp_path, watching=False)
    idle.acts.toggle()
    assert idle.said == [NO_WATCH]
    item = idle.acts.item()
    assert item is not None
    assert item.level is Level.WELL
    for changes in ({"trainer": None}, {"plan": replace(PLAN, power_w=None)}):
        other = Hands(tmp_path)
        other.studio.choose(**changes)
        other.acts.toggle()
        assert other.said == [NO_TRAINER]
        assert other.live.told() == []


def test_without_a_trainer_nothing_stands_in_the_strip(tmp_path: Path) -> None:
    hands = Hands(tmp_path)
    hands.studio.choose(trainer=None)
    assert hands.acts.item() is None
    assert hands.acts.question is None


def test_sensors_that_are_not_open_yet_are_told_so(hands: Hands) -> None:
    studio: Studio = hands.studio
    studio.live = None
    hands.acts.toggle()
    assert hands.said == [NO_WATCH]
