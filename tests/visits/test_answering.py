"""What may be done between trials, and what an answers file says to it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from made_acts import Walk, made_plan

from posewatch.store.answers_file import AnswersDocument
from posewatch.store.plan_file import write_plan
from posewatch.store.settings import Settings
from posewatch.trials import acts
from posewatch.trials.check_list import find_line
from posewatch.trials.conduct_state import Run, StartNeed
from posewatch.trials.start_needs import Missing
from posewatch.visits.answering import Choice, FileAnswers, Wish, choices
from posewatch.visits.new_visit import NewVisit
from posewatch.visits.visit import Visit

ALWAYS = {Choice.GO_ON, Choice.RECORD, Choice.STOP, Choice.END}


def document(**said: Any) -> AnswersDocument:
    head = {"format": "posewatch answers", "format_version": 1}
    return AnswersDocument.model_validate(head | said, strict=False)


@pytest.fixture
def visit(tmp_path: Path) -> Visit:
    write_plan(made_plan(), tmp_path / "plan.json")
    new = NewVisit(tmp_path / "plan.json", fast=True)
    made = Visit.begin(tmp_path / "visit", new, Settings(data_folder=tmp_path))
    made.close()
    return made


def test_what_may_be_done_at_each_place() -> None:
    walk = Walk()
    walk.do(acts.VisitBegun, 1)
    assert {*choices(walk.state, True)} == {*ALWAYS, Choice.SKIP}
    walk.mount()
    assert {*choices(walk.state, True)} == {*ALWAYS, Choice.SKIP, Choice.MOUNTING}
    walk.ride()
    assert {*choices(walk.state, True)} == {*Choice}
    assert {*choices(walk.state, False)} == {*ALWAYS, Choice.REPEAT}
    walk.do(acts.TrialRepeated, "doorbell")
    assert Choice.REPEAT not in choices(walk.state, True)


def test_wishes_as_acts() -> None:
    note = acts.Noted(0, "fan on")
    assert Wish(Choice.RECORD, act=note).to_do(None) is note
    assert Wish(Choice.REPEAT, "why").to_do(None) == acts.TrialRepeated(0, "why")
    assert Wish(Choice.SKIP, "why").to_do(acts.TrialSkipped) == acts.TrialSkipped(0, "why")
    left = acts.MountingSkipped(0, "why")
    assert Wish(Choice.MOUNTING, "why").to_do(acts.TrialSkipped) == left


def test_a_mountings_own_answers_go_before_those_of_all(visit: Visit) -> None:
    line = find_line(visit.plan.design, "room_temperature")
    said = {
        "check_list": {"room_temperature": 21.0},
        "mountings": (
            {"number": 2, "check_list": {"room_temperature": 22.5}},
            {"number": 3, "left_out": {"room_temperature": "thermometer broke"}},
        ),
    }
    answers = FileAnswers(document(**said), visit)
    assert answers.line(1, line) == acts.LineDone(0, line.key, "21")
    assert answers.line(2, line) == acts.LineDone(0, line.key, "22.5")
    assert answers.line(3, line) == acts.LineSkipped(0, line.key, "thermometer broke")
    nothing = FileAnswers(document(), visit)
    assert nothing.line(1, line) == acts.LineSkipped(0, line.key, "not in the answers file")


def test_what_is_not_said_was_not_asked(visit: Visit) -> None:
    ridden = Run(2, 1, 1, "hoods", "trials/x", 0)
    said = {
        "mountings": (
            {
                "number": 2,
                "trials": {"hoods": {"ratings": {"front": {"pain": 0.0}}}},
                "guess": {"guess": None, "confidence": 0},
            },
        ),
        "passed_over": {"warm-up": "rode here"},
    }
    answers = FileAnswers(document(**said), visit)
    rated = {(one.region, one.scale): one.value for one in answers.rate(ridden)}
    assert len(rated) == 16
    assert rated["front", "pain"] == 0.0
    assert rated["front", "comfort"] is None
    assert answers.guess(2) == acts.Guessed(0, None, 0)
    assert answers.guess(1) is None
    assert answers.why(Missing(StartNeed.WARM_UP, "x", "y")) == "rode here"
    assert answers.why(Missing(StartNeed.REST, "x", "y")) == ""
    assert (answers.pause(), answers.operator()) == ("", "")


def test_what_is_to_be_recorded_comes_first_and_once(visit: Visit) -> None:
    said = {
        "notes": ("fan on",),
        "hardness": (
            {"item": "item 2", "scale": "OO", "zone": "rear", "dwell_s": 3.0, "readings": (31.0,)},
        ),
    }
    answers = FileAnswers(document(**said), visit)
    wishes = [answers.choose("x", [*Choice]) for _ in range(3)]
    assert [wish.choice for wish in wishes] == [Choice.RECORD, Choice.RECORD, Choice.GO_ON]
    assert isinstance(wishes[1].act, acts.Gauged)
    assert wishes[1].act.code == "item 2"
