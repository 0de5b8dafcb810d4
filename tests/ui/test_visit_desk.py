"""A visit conducted step by step: what each key does when, and what is in the record of it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from conducted import SITTING, ZERO_NS, Conducted, Times, small_design
from made_operator_scenes import stands

from posewatch.core.outputs import Reason
from posewatch.core.records import NS_PER_S
from posewatch.errors import PosewatchError
from posewatch.store.visit_record import VisitRecord
from posewatch.studio import Doing
from posewatch.trials import acts
from posewatch.trials.check_list import check_list
from posewatch.trials.conduct_state import StartNeed
from posewatch.trials.kinds import Entry
from posewatch.trials.words import RITUAL, ConcealmentLevel
from posewatch.ui.health_view import Level
from posewatch.ui.visit_view import Next


def test_who_runs_the_visit_is_asked_first(at: Conducted) -> None:
    assert at.step is Next.BEGIN_VISIT
    at.next()
    assert at.desk.form is not None
    assert at.acts == []
    assert at.keep(" op3 ") == ""
    assert at.acts == [acts.VisitBegun(1 * NS_PER_S, 1, "op3")]
    assert at.desk.form is None


def test_the_warm_up_is_begun_waited_for_and_ended(at: Conducted) -> None:
    at.next()
    at.keep("op3")
    assert at.step is Next.BEGIN_WARM_UP
    at.next()
    at.poll(seconds=300.0)
    at.next()
    assert at.last == acts.WarmUp(0, True), "it lasts as long as it was planned"
    assert at.step is Next.WARM_UP
    at.poll(seconds=300.0)
    assert at.step is Next.END_WARM_UP
    at.next()
    assert at.last == acts.WarmUp(0, False)
    assert at.step is Next.MOUNT


def test_where_waits_are_passed_over_one_key_lets_the_time_pass(
    tmp_path: Path, times: Times
) -> None:
    at = Conducted(tmp_path, times, fast=True)
    at.next()
    at.keep("op3")
    at.next()
    at.next()
    assert at.step is Next.END_WARM_UP


def test_the_check_list_line_by_line(at: Conducted) -> None:
    at.begin()
    at.next()
    lines = check_list(at.visit.plan.design)
    for line in lines:
        assert at.step is Next.LINE
        assert at.desk.now.marked == line
        at.desk.next()
        if line.entry is not Entry.TICK:
            assert at.keep("twelve").startswith("'twelve' is no number")
            assert at.keep(f"12,5 {line.unit}") == ""
    done = [one for one in at.acts if isinstance(one, acts.LineDone)]
    assert [one.line for one in done] == [line.key for line in lines]
    assert {one.value for one in done} == {"", "12.5"}
    assert at.step is Next.BEGIN_TRIAL


def test_lines_are_gone_to_left_out_and_done_again(at: Conducted) -> None:
    at.begin()
    at.next()
    keys = [line.key for line in check_list(at.visit.plan.design)]
    at.desk.move(-1)
    assert at.desk.now.line == 0
    at.desk.move(2)
    at.desk.next()
    assert at.last == acts.LineDone(0, keys[2])
    assert at.desk.now.line == 3
    at.desk.move(len(keys))
    assert at.desk.now.line == len(keys) - 1
    at.leave_out("this line", "no thermometer")
    assert at.last == acts.LineSkipped(0, keys[-1], "no thermometer")
    assert at.desk.now.line == 0, "round to the first that is open"
    at.desk.move(2)
    at.leave_out("this line", "they were not flat after all")
    assert at.last == acts.LineSkipped(0, keys[2], "they were not flat after all")


def test_nothing_is_left_out_without_a_reason(at: Conducted) -> None:
    at.begin()
    at.next()
    n = len(at.acts)
    at.desk.skip()
    assert at.keep("1", "  ").startswith("No reason is given.")
    assert at.keep("9", "why").startswith("'9' is none of these.")
    assert at.desk.form is not None
    at.desk.leave()
    assert at.desk.form is None
    assert len(at.acts) == n


def test_a_key_meant_for_what_was_before_does_not_begin_what_comes(at: Conducted) -> None:
    at.begin()
    at.next()
    at.leave_out("check list", "all of it")
    assert at.step is Next.BEGIN_TRIAL
    at.times.pass_by(0.3)
    at.desk.next()
    assert at.studio.doing is Doing.NOTHING
    at.times.pass_by(0.2)
    at.desk.next()
    assert at.studio.doing is Doing.WATCH


def test_unsealed_codes_are_passed_over_with_a_reason(tmp_path: Path, times: Times) -> None:
    design = small_design(concealment=ConcealmentLevel.ITEM_COVERED, warm_up_s=0.0)
    at = Conducted(tmp_path, times, design)
    header = replace(at.visit.header, sealed_sha256="")
    at.visit._record.header = header
    at.next()
    at.keep("op3")
    assert at.step is Next.CODES
    at.next()
    assert at.desk.form is not None
    assert at.desk.form.words[0] == "1  the sealed code list"
    assert at.keep("1", "a rehearsal of ours") == ""
    assert at.last == acts.Overridden(0, StartNeed.CODES, "a rehearsal of ours")
    assert at.step is Next.MOUNT


def test_a_missing_target_leaves_the_trial_out(at: Conducted) -> None:
    hands = at.visit.plan.mountings[0].trials[0].hands
    for path in (at.folder / "data" / "targets").rglob(f"{hands}/*.json"):
        path.unlink()
    at.begin()
    at.mount()
    assert at.step is Next.TARGET
    at.next()
    assert at.desk.form is not None
    assert at.desk.form.words[0] == "1  the trial that is next"
    assert at.keep("1", "not captured") == ""
    assert at.last == acts.TrialSkipped(0, "not captured")
    assert at.step is Next.BEGIN_TRIAL


def test_an_item_rests_before_it_is_ridden_again(tmp_path: Path, times: Times) -> None:
    at = Conducted(tmp_path, times, small_design(mountings=2, hands=("hoods",)))
    at.begin()
    slots = [one.slot for one in at.visit.plan.mountings]
    for _ in range(slots.index(slots[1], 2)):
        at.mount()
        at.trial()
        at.next()
    at.next()
    at.leave_out("check list", "quick")
    assert at.step is Next.REST
    at.next()
    assert at.visit.state.run is None
    at.poll(seconds=600.0)
    assert at.step is Next.BEGIN_TRIAL


def test_a_mounting_and_the_visit_are_left_with_a_reason(at: Conducted) -> None:
    at.begin()
    at.mount()
    at.leave_out("rest of this mounting", "strap broke")
    assert at.last == acts.MountingSkipped(0, "strap broke")
    at.mount()
    at.leave_out("rest of the visit", "rider ill")
    assert [replace(one, t_ns=0) for one in at.acts[-2:]] == [
        acts.MountingSkipped(0, "rider ill"),
        acts.VisitEnded(0, "rider ill"),
    ]
    assert at.step is Next.OVER
    at.desk.skip()
    assert at.desk.form is None


def test_a_whole_visit_ends_by_itself_in_its_last_step(at: Conducted) -> None:
    at.begin()
    for _ in range(2):
        at.mount()
        at.trial()
        at.trial()
        assert at.step is Next.END_MOUNTING
        at.next()
    assert at.step is Next.END_VISIT
    at.next()
    assert at.last == acts.VisitEnded(0)
    at.next()
    assert at.step is Next.OVER
    resets = [one.moment for one in at.acts if isinstance(one, acts.RitualDone)]
    assert resets == list(RITUAL) * 4


def test_a_record_that_cannot_be_written_stops_the_trial_loudly(
    at: Conducted, monkeypatch: pytest.MonkeyPatch
) -> None:
    at.begin()
    at.mount()
    at.begin_trial()
    at.ride(counted=20, seconds=20.0)

    def full(*_: object) -> None:
        raise PosewatchError("The visit cannot be written any more (disk full).", "Make room.")

    monkeypatch.setattr(VisitRecord, "add", full)
    at.poll(stands(waiting=(Reason.PAUSED,), counted=21), 1.0)
    assert at.engine.post.stop.is_set()
    assert at.notes[-1] == (
        "The visit cannot be written any more (disk full). Make room.",
        Level.FAULT,
    )
    assert at.step is Next.STOPPED
    n = len(at.notes)
    at.next()
    at.desk.write_note()
    at.desk.skip()
    assert at.desk.form is None
    assert at.notes[n:] == [at.notes[n - 1]]


def test_a_form_that_cannot_be_kept_stops_the_visit_too(
    at: Conducted, monkeypatch: pytest.MonkeyPatch
) -> None:
    at.begin()
    at.desk.write_note()

    def full(*_: object) -> None:
        raise PosewatchError("Full.", "Make room.")

    monkeypatch.setattr(VisitRecord, "add", full)
    assert at.keep("window open") == ""
    assert at.desk.fault == "Full. Make room."
    assert at.desk.form is None


def test_a_fault_of_the_program_itself_stops_the_trial_too(
    at: Conducted, monkeypatch: pytest.MonkeyPatch
) -> None:
    at.begin()
    at.mount()
    at.begin_trial()

    def wrong(*_: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(type(at.visit), "follow", wrong)
    at.poll(SITTING, 1.0)
    assert at.engine.post.stop.is_set()
    assert "ZeroDivisionError" in at.desk.fault


def test_clocks_that_jump_go_into_the_record(
    at: Conducted, monkeypatch: pytest.MonkeyPatch
) -> None:
    at.begin()
    at.poll(seconds=5.0)
    monkeypatch.setattr(
        "posewatch.runtime.clock.wall_ns", lambda: ZERO_NS + at.times.ns + 3600 * NS_PER_S
    )
    at.poll(seconds=5.0)
    assert at.last == acts.ClockJumped(0, 3600.0, 0.0)
