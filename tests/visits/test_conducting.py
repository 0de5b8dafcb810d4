"""A visit is gone through in its order, whoever answers, and left and broken off cleanly."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from made_acts import made_plan
from scripted_answers import Said, Scripted, watcher_of

from posewatch.app import Watcher
from posewatch.core.envelope import Target
from posewatch.core.records import NS_PER_S, Command, CommandKind
from posewatch.errors import BadInput, ChainMismatch
from posewatch.runtime import clock
from posewatch.store.answers_file import AnswersDocument
from posewatch.store.plan_file import write_plan
from posewatch.store.session_reader import SessionReader
from posewatch.store.settings import Settings
from posewatch.store.target_shelf import save_target
from posewatch.store.visit_record import read_visit
from posewatch.trials import acts
from posewatch.trials.acts import Act
from posewatch.trials.conduct_state import TrialPhase
from posewatch.trials.words import ConcealmentLevel
from posewatch.visits.answering import Answerer, Choice, FileAnswers, Wish
from posewatch.visits.conducting import Conductor
from posewatch.visits.visit import NewVisit, TrialTask, Visit

ON = Wish(Choice.GO_ON)


class Place:
    """A visit of two shorts, each mounted once and ridden on the hoods, and how it is conducted."""

    def __init__(self, folder: Path, target: Target, recording: Path) -> None:
        self.data_folder = folder / "data"
        self.settings = Settings(data_folder=self.data_folder)
        self.watcher_of = watcher_of(recording, self.data_folder)
        self.folder = folder / "visit"
        self.screen = Said()
        save_target(target, self.data_folder)
        self._target = target

    def begin(self, fast: bool = True, **changes: Any) -> Visit:
        """Begin it; nothing is concealed unless said."""
        short = {
            "rider": self._target.rider,
            "bike": self._target.bike,
            "hands": ("hoods",),
            "mountings": 1,
            "sit_in_s": 1.0,
            "hand_change_s": 1.0,
            "concealment": ConcealmentLevel.READINGS_HIDDEN,
        }
        plan = self.folder.with_suffix(".plan.json")
        write_plan(made_plan(**(short | changes)), plan)
        return Visit.begin(self.folder, NewVisit(plan, fast=fast), self.settings)

    def conduct(self, visit: Visit, answers: Answerer) -> list[Act]:
        """Conduct it, close it, and return what its record holds."""
        try:
            Conductor(visit, 1, answers, self.screen, self.watcher_of).run()
        finally:
            visit.close()
        return self.kept()

    def kept(self) -> list[Act]:
        """Return what the record holds."""
        return [one.act for one in read_visit(self.folder)[1]]

    def go_on(self) -> Visit:
        """Go on with it."""
        return Visit.go_on(self.folder, self.settings)


@pytest.fixture
def place(tmp_path: Path, ridden_target: Target, reference_recording: Path) -> Place:
    return Place(tmp_path, ridden_target, reference_recording)


def names(found: list[Act]) -> list[str]:
    """The kinds of acts in their order, without those of lines, reset and hold."""
    left_out = (acts.LineDone, acts.LineSkipped, acts.RitualDone, acts.HoldSeen, acts.Rated)
    return [type(act).__name__ for act in found if not isinstance(act, left_out)]


def test_everything_in_its_order(place: Place) -> None:
    answers = Scripted()
    found = place.conduct(place.begin(warm_up_s=600.0, item_rest_s=600.0), answers)
    assert names(found) == [
        *("VisitBegun", "WarmUp", "WarmUp"),
        *("MountingBegun", "TrialBegun", "TrialClosed", "MountingEnded") * 2,
        "VisitEnded",
    ]
    assert answers.asked == [
        "the warm-up, on the rider's own gear",
        "mounting 1, item 1",
        "trial 1 of mounting 1, hoods",
        "rate 1.1.1",
        "the end of mounting 1: the item comes off load",
        "mounting 2, item 2",
        "trial 1 of mounting 2, hoods",
        "rate 2.1.1",
        "the end of mounting 2: the item comes off load",
        "the end: all is ridden",
    ]
    counted = Counter(type(act).__name__ for act in found)
    assert counted["RitualDone"] == 10
    assert counted["LineDone"] + counted["LineSkipped"] == 30
    assert counted["Rated"] == 4
    assert isinstance(found[0], acts.VisitBegun)
    assert (found[0].visit, found[0].operator) == (1, "anna")
    warm_ups = [act for act in found if isinstance(act, acts.WarmUp)]
    assert warm_ups[1].t_ns - warm_ups[0].t_ns >= 600_000_000_000
    assert [act.t_ns for act in found] == sorted(act.t_ns for act in found)
    assert place.screen.lines.count("reset: coast, stand 8 s, sit, hands on, pedal") == 2
    assert "the warm-up lacks 10 min 00 s: time is passed over" in place.screen.lines


def test_a_guess_is_asked_only_where_the_item_is_concealed(place: Place) -> None:
    answers = Scripted(whys={"code list": "a quick look"})
    visit = place.begin(concealment=ConcealmentLevel.ITEM_COVERED)
    found = place.conduct(visit, answers)
    assert [name for name in names(found) if name in ("Guessed", "Overridden")] == [
        *("Overridden", "Guessed", "Overridden"),
    ]
    assert [act for act in found if isinstance(act, acts.Overridden)][1].reason == "not asked"
    assert answers.asked.index("guess 1") == answers.asked.index("mounting 2, item 2") - 1


def test_a_file_answers_the_same(place: Place) -> None:
    document = AnswersDocument.model_validate(
        {
            "format": "posewatch answers",
            "format_version": 1,
            "operator": "nobody",
            "check_list": {"room_temperature": 21.5},
            "left_out": {"mat_zero": "no mat"},
            "mountings": (
                {
                    "number": 2,
                    "check_list": {"room_temperature": 22.0},
                    "trials": {
                        "hoods": {"ratings": {"front": {"pain": 0.0}}, "note": "a fold"},
                    },
                },
            ),
            "facts": ({"item": "item 2", "fact": "weight", "value": 186.0},),
            "notes": ("fan on",),
        },
        strict=False,
    )
    visit = place.begin()
    found = place.conduct(visit, FileAnswers(document, visit))
    assert names(found)[:4] == ["VisitBegun", "Noted", "ItemFact", "MountingBegun"]
    assert names(found)[-1] == "VisitEnded"
    facts = [act for act in found if isinstance(act, acts.ItemFact)]
    assert [(one.code, one.fact, one.value) for one in facts] == [("item 2", "weight", 186.0)]
    warm = [a.value for a in found if isinstance(a, acts.LineDone) and a.line == "room_temperature"]
    assert warm == ["21.5", "22"]
    skipped = {a.line: a.reason for a in found if isinstance(a, acts.LineSkipped)}
    assert (skipped["mat_zero"], skipped["fan_alike"]) == ("no mat", "not in the answers file")
    rated = [act for act in found if isinstance(act, acts.Rated)]
    assert len(rated) == 2 * 16
    assert [one.value for one in rated if one.value is not None] == [0.0]
    notes = [act.text for act in found if isinstance(act, acts.Noted)]
    assert notes == ["fan on", "a fold"]


def test_it_is_left_and_gone_on_with_and_nothing_is_recorded_twice(place: Place) -> None:
    note = Wish(Choice.RECORD, act=acts.Noted(0, "fan on"))
    first = place.conduct(place.begin(), Scripted(note, ON, ON, Wish(Choice.STOP)))
    assert names(first)[-1] == "TrialClosed"
    document = AnswersDocument.model_validate(
        {"format": "posewatch answers", "format_version": 1, "notes": ("fan on", "window shut")},
        strict=False,
    )
    visit = place.go_on()
    found = place.conduct(visit, FileAnswers(document, visit))
    assert found[: len(first)] == first
    assert names(found)[len(names(first)) :] == [
        *("Reopened", "Noted", "MountingEnded"),
        *("MountingBegun", "TrialBegun", "TrialClosed", "MountingEnded", "VisitEnded"),
    ]
    assert [act.text for act in found if isinstance(act, acts.Noted)] == ["fan on", "window shut"]


def test_a_trial_is_broken_off_and_ridden_again(place: Place) -> None:
    place.screen.interrupt = lambda watcher: watcher.stop.set()

    def calm(what: str) -> Wish:
        place.screen.interrupt = lambda _: None
        return Wish(Choice.REPEAT, "the phone rang")

    answers = Scripted(ON, ON)
    answers.choose = _then(answers.choose, 2, calm)  # type: ignore[method-assign]
    visit = place.begin()
    found = place.conduct(visit, answers)
    runs = visit.state.runs
    assert [(run.mounting, run.attempt, run.broken_off, run.repeated) for run in runs] == [
        (1, 1, "the phone rang", "the phone rang"),
        (1, 2, "", ""),
        (2, 1, "", ""),
    ]
    assert [run.n_confirmed for run in runs] == [0, 10, 10]
    assert names(found).count("TrialBegun") == 3
    assert (place.folder / runs[0].folder / "session.sqlite").is_file()


def _then(
    choose: Callable[..., Wish], after: int, instead: Callable[[str], Wish]
) -> Callable[..., Wish]:
    """Answer otherwise, once, after so many answers."""
    n = 0

    def chosen(what: str, choices: list[Choice]) -> Wish:
        nonlocal n
        n += 1
        return instead(what) if n == after + 1 else choose(what, choices)

    return chosen


def test_skipping_leaving_and_ending(place: Place) -> None:
    visit = place.begin(mountings=2)
    answers = Scripted(
        Wish(Choice.SKIP, "wrong size"),
        *(ON, Wish(Choice.SKIP, "cramp"), ON),
        *(ON, Wish(Choice.MOUNTING, "seam is torn")),
        Wish(Choice.END, "no time"),
    )
    found = place.conduct(visit, answers)
    assert names(found) == [
        *("VisitBegun", "MountingSkipped", "MountingBegun", "TrialSkipped", "MountingEnded"),
        *("MountingBegun", "MountingSkipped", "VisitEnded"),
    ]
    assert visit.state.ended is not None
    assert visit.state.ended.reason == "no time"


def test_what_cannot_be_recorded_is_told_and_asked_again(place: Place) -> None:
    wrong = Wish(Choice.RECORD, act=acts.ItemFact(0, "Z9", "weight", 1.0))
    found = place.conduct(place.begin(), Scripted(wrong, Wish(Choice.END, "over")))
    assert names(found) == ["VisitBegun", "VisitEnded"]
    assert any("No item has the code 'Z9'" in line for line in place.screen.lines)


def test_ctrl_c_where_nobody_attends_ends_the_visit_with_that_reason(place: Place) -> None:
    place.screen.interrupt = lambda watcher: watcher.stop.set()
    visit = place.begin()
    found = place.conduct(visit, FileAnswers(_nothing_said(), visit))
    assert names(found)[-3:] == ["TrialClosed", "MountingSkipped", "VisitEnded"]
    assert visit.state.runs[0].broken_off == "Ctrl+C"
    assert visit.state.ended is not None
    assert visit.state.ended.reason == "Ctrl+C"


def _nothing_said(**said: Any) -> AnswersDocument:
    head = {"format": "posewatch answers", "format_version": 1}
    return AnswersDocument.model_validate(head | said, strict=False)


def test_ctrl_c_at_a_question_leaves_the_visit_as_it_stands(place: Place) -> None:
    def interrupted(what: str) -> Wish:
        raise KeyboardInterrupt

    answers = Scripted()
    answers.choose = _then(answers.choose, 1, interrupted)  # type: ignore[method-assign]
    visit = place.begin()
    assert names(place.conduct(visit, answers)) == ["VisitBegun", "MountingBegun"]
    assert visit.state.ended is None


@pytest.mark.parametrize("why", ["", "rode here"])
def test_a_wait_is_waited_for_unless_it_is_said_why_not(
    place: Place, why: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    visit = place.begin(fast=False, warm_up_s=5.0)
    now_ns = clock.monotonic_ns()
    monkeypatch.setattr(clock, "monotonic_ns", lambda: now_ns)
    n_waits = 0

    def wait(due_ns: int, _: object) -> bool:
        nonlocal now_ns, n_waits
        n_waits += 1
        if n_waits == 2:
            raise KeyboardInterrupt
        now_ns = max(now_ns, due_ns)
        return True

    monkeypatch.setattr(clock, "wait_until", wait)
    answers = Scripted(ON, Wish(Choice.END, "over"), whys={"warm-up": why})
    found = place.conduct(visit, answers)
    assert "why warm-up" in answers.asked
    begun, ended = (act for act in found if isinstance(act, acts.WarmUp))
    passed_over = [act.reason for act in found if isinstance(act, acts.Overridden)]
    if why:
        assert passed_over == [why]
        assert ended.t_ns - begun.t_ns < 2_000_000_000
    else:
        assert passed_over == []
        assert ended.t_ns - begun.t_ns >= 5_000_000_000
        assert place.screen.waits == pytest.approx([5, 4, 0, 4, 3, 2, 1, 0], abs=0.01)


def test_an_answers_file_passes_over_what_it_says(place: Place) -> None:
    visit = place.begin(fast=False, warm_up_s=600.0)
    said = _nothing_said(passed_over={"warm-up": "rode here"})
    place.screen.interrupt = lambda watcher: watcher.stop.set()
    found = place.conduct(visit, FileAnswers(said, visit))
    assert names(found)[:4] == ["VisitBegun", "WarmUp", "Overridden", "WarmUp"]


def test_missing_codes_are_told(place: Place) -> None:
    visit = place.begin(concealment=ConcealmentLevel.OPERATOR_BLIND)
    with pytest.raises(BadInput, match="the items' codes are not sealed"):
        place.conduct(visit, FileAnswers(_nothing_said(), visit))
    assert names(place.kept()) == ["VisitBegun"]


def test_a_target_of_another_chain_leaves_no_trial_half_begun(
    place: Place,
) -> None:
    plain = place.watcher_of

    def other_chain(task: TrialTask) -> Watcher:
        chain = replace(task.target.chain, model_sha256="1" * 64)
        return plain(replace(task, target=replace(task.target, chain=chain)))

    place.watcher_of = other_chain
    visit = place.begin()
    with pytest.raises(ChainMismatch):
        place.conduct(visit, FileAnswers(_nothing_said(), visit))
    (run,) = visit.state.runs
    assert run.phase is TrialPhase.CLOSED
    assert run.broken_off.startswith("The target does not fit this chain")
    assert not (place.folder / run.folder).exists()
    # Somebody at the keys is told, and decides.
    visit = place.go_on()
    place.conduct(visit, Scripted(Wish(Choice.END, "wrong model")))
    assert visit.state.ended is not None


def test_a_source_that_ends_before_the_goal_is_said(place: Place) -> None:
    visit = place.begin(goal_strokes=500)
    place.conduct(visit, Scripted(ON, ON, ON, Wish(Choice.END, "over")))
    (run,) = visit.state.runs
    assert run.broken_off == "the source ended"
    assert 8 <= run.n_confirmed < 500


def test_a_pause_is_in_the_trials_log_and_the_hold_waits(place: Place) -> None:
    answers = Scripted(ON, ON, ON, Wish(Choice.END, "over"))
    answers.pauses = ["", "", *["paused: towel"] * 40]
    visit = place.begin()
    found = place.conduct(visit, answers)
    waits = [act for act in found if isinstance(act, acts.Waiting | acts.WaitOver)]
    assert [getattr(act, "cause", "over") for act in waits] == ["paused", "over"]
    assert [act.text for act in found if isinstance(act, acts.Noted)] == ["paused: towel"]
    with SessionReader(visit.folder / visit.state.runs[0].folder) as log:
        said = [item for _, item in log.inputs() if isinstance(item, Command)]
        begun_ns, over_ns = (one.t_ns for one in said)
        assert [one.kind for one in said] == [CommandKind.PAUSE, CommandKind.RESUME]
        assert said[0].text == "paused: towel"
        assert over_ns - begun_ns > NS_PER_S
        assert not any(one.counted and one.start_ns < over_ns for one in log.strokes())


def test_an_error_in_a_trial_keeps_what_was_ridden(place: Place) -> None:
    n = 0

    def fail(_: Watcher) -> None:
        nonlocal n
        n += 1
        if n == 300:
            raise MemoryError

    place.screen.interrupt = fail
    visit = place.begin()
    with pytest.raises(MemoryError):
        place.conduct(visit, Scripted())
    (run,) = visit.state.runs
    assert (run.phase, run.broken_off) == (TrialPhase.CLOSED, "cut off")
