"""A visit under way: what it asks before a trial, what its watch is told, and going on with it."""

from __future__ import annotations

import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from made_acts import made_plan
from ridden_visits import GOAL_STROKES, begin_trial, begin_visit, ride_trial

from posewatch import replaying
from posewatch.checking import check_visit
from posewatch.core.clock_watch import Clocks
from posewatch.core.envelope import Target
from posewatch.core.outputs import Phase, Reason
from posewatch.core.timebase import to_ns, to_s
from posewatch.errors import BadInput
from posewatch.runtime import clock
from posewatch.runtime.watch_run import WatchTotals
from posewatch.store.plan_file import write_plan
from posewatch.store.session_reader import SessionReader
from posewatch.store.settings import Settings
from posewatch.store.visit_record import VisitRecord, read_visit
from posewatch.trials import acts
from posewatch.trials.acts import Act
from posewatch.trials.conduct_state import StartNeed, TrialPhase
from posewatch.visits.visit import NewVisit, Visit

NOTHING = WatchTotals(0, 0, 0, 0, 0)


@pytest.fixture
def data_folder(tmp_path: Path) -> Path:
    return tmp_path / "data"


@pytest.fixture
def settings(data_folder: Path) -> Settings:
    return Settings(data_folder=data_folder)


@pytest.fixture
def visit(tmp_path: Path, data_folder: Path, ridden_target: Target) -> Visit:
    return begin_visit(tmp_path / "visit", data_folder, ridden_target)


def kept(visit: Visit) -> list[Act]:
    return [one.act for one in read_visit(visit.folder)[1]]


def test_a_trial_is_ridden_to_its_goal_and_kept(
    visit: Visit, reference_recording: Path, data_folder: Path, settings: Settings
) -> None:
    ride_trial(visit, reference_recording, data_folder)
    (run,) = visit.state.runs
    assert (run.phase, run.n_confirmed, run.broken_off) == (TrialPhase.CLOSED, GOAL_STROKES, "")
    session = visit.folder / run.folder
    with SessionReader(session) as reader:
        assert reader.ending is not None
        assert (reader.ending.n_counted, reader.ending.counted_ns) == (
            run.n_confirmed,
            run.counted_ns,
        )
        watched_ns = reader.ending.watched_ns
    # Ridden faster than life, it took as long on the visit's clock as it lasted.
    assert run.ended_ns is not None
    assert run.ended_ns - run.begun_ns == pytest.approx(watched_ns, abs=to_ns(15.5))
    assert run.ended_ns - run.begun_ns >= watched_ns
    state = visit.state
    visit.close()
    again = Visit.go_on(visit.folder, settings)
    assert again.state == state
    again.close()


def test_what_is_missing_is_named_and_nothing_begins(visit: Visit) -> None:
    with pytest.raises(BadInput) as raised:
        visit.begin_trial()
    assert "The trial cannot begin: mounting 1 has not begun." in str(raised.value)
    assert "pass it over with a reason" in str(raised.value)
    assert [type(act) for act in kept(visit)] == [acts.VisitBegun]
    assert not (visit.folder / "trials").exists()
    visit.close()


def test_a_hand_position_without_a_target_is_missing(
    visit: Visit, data_folder: Path, ridden_target: Target
) -> None:
    shutil.rmtree(data_folder / "targets" / ridden_target.rider)
    visit.do(acts.MountingBegun(visit.clock.now_ns))
    assert StartNeed.TARGET in {one.need for one in visit.missing()}
    with pytest.raises(BadInput, match="There is no target rider/bike/hoods"):
        visit.target()
    visit.close()


def test_an_act_that_cannot_be_is_not_kept(visit: Visit) -> None:
    before = visit.state
    with pytest.raises(BadInput):
        visit.do(acts.TrialBegun(0, "trials/x"))
    with pytest.raises(BadInput, match="No item has the code 'Z9'"):
        visit.do(acts.ItemFact(0, "Z9", "weight", 1.0))
    with pytest.raises(BadInput, match="cannot be kept"):
        visit.do(acts.Noted(0, "\ud800"))
    assert visit.state is before
    assert len(kept(visit)) == 1
    visit.close()


def test_who_listens_hears_an_act_once_it_is_kept_and_none_that_was_refused(visit: Visit) -> None:
    heard: list[tuple[Act, bool]] = []
    visit.on_act = lambda act, after: heard.append((act, after is visit.state))
    n_before = len(kept(visit))
    visit.do(acts.Noted(visit.clock.now_ns, "fan on"))
    with pytest.raises(BadInput):
        visit.do(acts.WaitOver(visit.clock.now_ns))
    assert heard == [(kept(visit)[n_before], True)]


def test_only_changes_of_the_trials_phase_go_into_the_record(visit: Visit) -> None:
    begin_trial(visit)
    while visit.say_reset() is not None:
        pass
    n_before = len(kept(visit))
    for phase, n in (
        *((Phase.SIT_IN, 0), (Phase.STEADYING, 0), (Phase.STEADYING, 0)),
        *((Phase.IN_POSITION, 0), (Phase.IN_POSITION, 8), (Phase.IN_POSITION, GOAL_STROKES)),
        (Phase.STEADYING, GOAL_STROKES),
    ):
        visit.follow(phase, n)
    assert [(act.phase, act.n_confirmed) for act in kept(visit)[n_before:]] == [
        (Phase.STEADYING, 0),
        (Phase.IN_POSITION, 0),
        (Phase.IN_POSITION, GOAL_STROKES),
    ]
    visit.end_trial(NOTHING, "over")
    with pytest.raises(BadInput, match="No trial is under way"):
        visit.follow(Phase.SIT_IN, 0)
    visit.close()


def test_a_pause_or_a_lost_camera_keeps_the_trial_waiting(visit: Visit) -> None:
    begin_trial(visit)
    while visit.say_reset() is not None:
        pass
    n_before = len(kept(visit))
    visit.follow(Phase.STEADYING, 0, {Reason.OUT_OF_SADDLE})
    visit.follow(Phase.STEADYING, 0, {Reason.PAUSED})
    visit.follow(Phase.STEADYING, 0, {Reason.PAUSED})
    visit.follow(Phase.STEADYING, 0, {Reason.CAMERA, Reason.PAUSED})
    assert visit.state.runs[-1].phase is TrialPhase.WAITING
    visit.follow(Phase.STEADYING, 0)
    causes = [getattr(act, "cause", "over") for act in kept(visit)[n_before + 1 :]]
    assert causes == ["paused", "paused, camera", "over"]
    assert visit.state.runs[-1].phase is TrialPhase.STEADYING
    visit.close()


def test_the_reset_is_said_step_by_step_where_somebody_rides(
    tmp_path: Path, settings: Settings, ridden_target: Target, monkeypatch: pytest.MonkeyPatch
) -> None:
    begin_visit(tmp_path / "fast", settings.data_folder, ridden_target).close()
    live = NewVisit(tmp_path / "fast.plan.json")
    visit = Visit.begin(tmp_path / "live", live, settings)
    visit.do(acts.VisitBegun(visit.clock.now_ns, 1))
    task = begin_trial(visit)
    assert task.plan.first_sit_in_s == pytest.approx(16.0)  # a reset of 15 s, and 1 s
    now_ns = zero_ns = clock.monotonic_ns()
    monkeypatch.setattr(clock, "monotonic_ns", lambda: now_ns)
    said = []
    for tenths in range(300):
        now_ns = zero_ns + to_ns(tenths / 10)
        moment = visit.say_reset()
        if moment is not None:
            said.append((str(moment), tenths / 10))
    assert [moment for moment, _ in said] == ["coast", "stand 8 s", "sit", "hands on", "pedal"]
    assert dict(said)["sit"] - dict(said)["stand 8 s"] == pytest.approx(8.0, abs=0.11)
    assert dict(said)["pedal"] == pytest.approx(15.0, abs=0.5)
    monkeypatch.undo()
    visit.close()


def test_a_trial_that_was_cut_off_is_closed_with_what_its_log_holds(
    visit: Visit, reference_recording: Path, data_folder: Path, settings: Settings
) -> None:
    ride_trial(visit, reference_recording, data_folder)
    ridden = visit.state.runs[0]
    task = begin_trial(visit)
    visit.say_reset()
    visit.close()
    # Killed: the log has its inputs and strokes, and neither an interval nor an ending.
    shutil.copytree(visit.folder / ridden.folder, task.session)
    _forget_the_end(task.session)
    again = Visit.go_on(visit.folder, settings)
    run = again.state.runs[-1]
    assert (run.phase, run.broken_off) == (TrialPhase.CLOSED, "cut off")
    assert (run.n_confirmed, run.counted_ns) == (ridden.n_confirmed, ridden.counted_ns)
    (interval,) = [
        one for one in replaying.replay(task.session, lambda _: None).intervals if one.confirmed
    ]
    assert run.n_confirmed == interval.n_strokes
    assert run.counted_ns == interval.end_ns - interval.start_ns
    assert isinstance(kept(again)[-2], acts.Reopened)
    again.close()


def _forget_the_end(session: Path) -> None:
    with closing(sqlite3.connect(session / "session.sqlite")) as connection:
        connection.execute("DELETE FROM ending")
        connection.execute("DELETE FROM intervals")
        connection.commit()


def test_one_that_was_cut_off_before_its_log_began_counts_nothing(
    visit: Visit, settings: Settings
) -> None:
    begin_trial(visit)
    visit.close()
    again = Visit.go_on(visit.folder, settings)
    assert (again.state.runs[-1].n_confirmed, again.state.run) == (0, None)
    again.close()


def test_time_runs_on_while_the_program_is_closed(
    visit: Visit, settings: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    visit.close()
    last = read_visit(visit.folder)[1][-1]
    monkeypatch.setattr(clock, "wall_ns", lambda: last.wall_ns + to_ns(3600.0))
    again = Visit.go_on(visit.folder, settings)
    assert to_s(kept(again)[-1].t_ns - last.act.t_ns) == pytest.approx(3600.0, abs=1.0)
    again.close()
    # A clock that was set back takes no time back.
    monkeypatch.setattr(clock, "wall_ns", lambda: last.wall_ns - to_ns(3600.0))
    before_ns = kept(again)[-1].t_ns
    third = Visit.go_on(visit.folder, settings)
    assert kept(third)[-1].t_ns >= before_ns
    third.close()


def test_a_clock_that_steps_goes_into_the_record(
    tmp_path: Path, settings: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_plan(made_plan(), tmp_path / "plan.json")
    found = Clocks(0, 0, to_ns(1e9))
    monkeypatch.setattr(clock, "clocks", lambda: found)
    visit = Visit.begin(tmp_path / "live", NewVisit(tmp_path / "plan.json"), settings)
    visit.look()
    found = Clocks(to_ns(1.0), to_ns(1.0), to_ns(1e9 + 3601.0))
    visit.look()
    visit.look()
    (act,) = kept(visit)
    assert isinstance(act, acts.ClockJumped)
    assert (act.stepped_s, act.slept_s) == (3600.0, 0.0)
    visit.close()


def test_ending_early_leaves_the_mounting_with_the_reason(visit: Visit) -> None:
    visit.do(acts.MountingBegun(visit.clock.now_ns))
    visit.end("no time")
    assert visit.state.mounted[-1].skipped == "no time"
    assert visit.state.ended is not None
    assert visit.state.ended.reason == "no time"
    visit.close()


def test_a_record_that_could_not_have_been_is_told_and_not_locked(
    visit: Visit, settings: Settings
) -> None:
    visit.close()
    with VisitRecord.reopen(visit.folder) as record:
        record.add(0, acts.MountingEnded(0))
    for _ in range(2):
        with pytest.raises(BadInput, match="its act 2 could not have been"):
            Visit.go_on(visit.folder, settings)


def test_a_rehearsal_passes_over_what_is_waited_for(
    tmp_path: Path, settings: Settings, ridden_target: Target
) -> None:
    begin_visit(tmp_path / "fast", settings.data_folder, ridden_target).close()
    new = NewVisit(tmp_path / "fast.plan.json", rehearsal=True)
    visit = Visit.begin(tmp_path / "rehearsed", new, settings)
    visit.do(acts.VisitBegun(visit.clock.now_ns, 1))
    assert begin_trial(visit).plan.sit_in_s <= 3.0
    said = list(iter(visit.say_reset, None))
    assert len(said) == 5
    visit.close()


def test_a_picture_of_a_mounting_is_kept_and_checked(visit: Visit, tmp_path: Path) -> None:
    picture = tmp_path / "p.png"
    picture.write_bytes(b"a picture")
    visit.do(acts.MountingBegun(visit.clock.now_ns))
    visit.keep_photo(picture)
    last = kept(visit)[-1]
    assert isinstance(last, acts.PhotoKept)
    assert last.file == "photos/m01-1.png"
    assert (visit.folder / last.file).read_bytes() == b"a picture"
    visit.close()
    assert check_visit(visit.folder).all_wrong == []
    (visit.folder / last.file).write_bytes(b"another")
    assert "not as it was kept" in " ".join(check_visit(visit.folder).all_wrong)


def test_acts_of_one_moment_are_kept_all_or_none(visit: Visit) -> None:
    before, now_ns = visit.state, visit.clock.now_ns
    with pytest.raises(BadInput):
        visit.do(acts.Noted(now_ns, "first"), acts.WaitOver(now_ns))
    assert visit.state is before
    assert not any(isinstance(act, acts.Noted) for act in kept(visit))
    visit.do(acts.Noted(now_ns, "first"), acts.Noted(now_ns, "second"))
    assert [act.text for act in kept(visit)[-2:] if isinstance(act, acts.Noted)] == [
        "first",
        "second",
    ]
