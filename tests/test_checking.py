"""A check finds what is not as it should be, and finds nothing in what is."""

from __future__ import annotations

import contextlib
import re
import shutil
import sqlite3
from dataclasses import replace
from pathlib import Path

import pytest
from linkage_rider import Pose, ride
from made_rides import write_ride
from older_sessions import older_session
from ridden_visits import GOAL_STROKES, begin_trial, begin_visit, ride_trial

from posewatch.app import Watcher
from posewatch.checking import _alike, check_session, check_visit
from posewatch.core.envelope import Target
from posewatch.core.watch_plan import WatchPlan
from posewatch.errors import PosewatchError
from posewatch.store.session_reader import SessionReader
from posewatch.store.settings import Settings
from posewatch.watched_source import Source


@pytest.fixture(scope="module")
def interrupted(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """12 s in position, 3 s with the torso low, 13 s in position again."""

    def pose(t_s: float, crank_deg: float) -> Pose:
        return Pose(crank_deg, torso_deg=34.0 if 12.0 <= t_s < 15.0 else 42.0)

    path = tmp_path_factory.mktemp("ride") / "ride.landmarks.npz"
    return write_ride(path, ride(28.0, pose, seed=5))


@pytest.fixture(scope="module")
def watched(
    tmp_path_factory: pytest.TempPathFactory, interrupted: Path, ridden_target: Target
) -> Path:
    folder = tmp_path_factory.mktemp("watched") / "s"
    settings = Settings(data_folder=folder.parent)
    watcher = Watcher(Source(interrupted, "full"), ridden_target, WatchPlan(), settings, folder)
    watcher.run(lambda *_: None, lambda _: None)
    return folder


@pytest.fixture
def session(watched: Path, tmp_path: Path) -> Path:
    """A finished watch with two intervals, to be damaged."""
    shutil.copytree(watched, tmp_path / "s")
    return tmp_path / "s"


def change(folder: Path, *statements: str, file: str = "session.sqlite") -> None:
    with contextlib.closing(sqlite3.connect(folder / file)) as connection:
        for statement in statements:
            assert connection.execute(statement).rowcount != 0
        connection.commit()


def test_a_good_session_is_whole_and_its_totals_come_out_again(session: Path) -> None:
    fed: list[None] = []
    found = check_session(session, lambda: fed.append(None))
    assert (found.wrong, found.notes) == ([], [])
    assert (found.finished, found.n_inputs, len(fed)) == (True, 840, 840)
    assert found.n_strokes > 35
    assert found.totals is not None
    assert found.totals.n_intervals == 2
    assert found.totals.n_counted > 20


def test_checking_changes_nothing(session: Path) -> None:
    before = (session / "session.sqlite").read_bytes()
    check_session(session)
    assert (session / "session.sqlite").read_bytes() == before
    assert [path.name for path in session.iterdir()] == ["session.sqlite"]


@pytest.mark.parametrize("n_kept", [1, 300, 700])
def test_a_session_that_was_cut_off_is_whole_as_far_as_it_goes(session: Path, n_kept: int) -> None:
    """As a kill leaves it: inputs and what was said to them, up to a commit."""
    with SessionReader(session) as reader:
        t_ns = [item.t_ns for _, item in reader.inputs()][n_kept - 1]
    change(session, "DELETE FROM ending", f"DELETE FROM inputs WHERE seq >= {n_kept}")
    with contextlib.closing(sqlite3.connect(session / "session.sqlite")) as connection:
        # Each of them was said at the first input at or after its end.
        connection.execute(f"DELETE FROM strokes WHERE end_ns > {t_ns}")
        connection.execute(f"DELETE FROM events WHERE max(t_ns, coalesce(end_ns, 0)) > {t_ns}")
        connection.execute("DELETE FROM intervals WHERE id > ?", (1 if n_kept == 700 else 0,))
        connection.commit()
    found = check_session(session)
    assert found.wrong == []
    assert not found.finished
    assert found.n_inputs == n_kept


@pytest.mark.parametrize(
    ("statement", "told"),
    [
        ("UPDATE intervals SET n_strokes = n_strokes - 1 WHERE id = 2", "Interval 2 .* n_strokes"),
        ("UPDATE intervals SET end_ns = end_ns + 2000 WHERE id = 1", "Interval 1 .* end_ns"),
        ("DELETE FROM intervals WHERE id = 2", "1 intervals are recorded, 2 come out"),
        ("UPDATE strokes SET counted = 1 WHERE id = 2", "Stroke 2 .* counted"),
        ("UPDATE strokes SET verdict = 'out' WHERE id = 9", "Stroke 9 .* verdict"),
        (
            "UPDATE strokes SET channels = replace(channels, 'true', 'false') WHERE id = 7",
            "Stroke 7 .* channels",
        ),
        ("UPDATE events SET reason = 'coasting' WHERE kind = 'lost'", "Event .* reason"),
        ("DELETE FROM events WHERE kind = 'gained'", "events are recorded"),
        ("UPDATE ending SET n_counted = n_counted + 1", "The ending says n_counted"),
        ("UPDATE ending SET n_frames = 1", "The ending says n_frames = 1"),
        ("DELETE FROM inputs WHERE seq BETWEEN 100 AND 102", "3 from number 100 are missing"),
        ("DELETE FROM inputs WHERE seq = 839", "The ending says n_frames"),
        ("UPDATE inputs SET payload = x'00' WHERE seq = 20", r"input 20 holds 1 bytes"),
        ("UPDATE inputs SET kind = 'smell' WHERE seq = 20", "unknown kind 'smell'"),
    ],
)
def test_what_was_changed_is_found(session: Path, statement: str, told: str) -> None:
    change(session, statement)
    found = check_session(session)
    assert any(re.search(told, line) for line in found.wrong), found.wrong


def test_last_digits_may_differ(session: Path) -> None:
    """As on another machine; a microsecond and a billionth are no other stroke."""
    change(
        session,
        "UPDATE intervals SET end_ns = end_ns + 900 WHERE id = 1",
        "UPDATE strokes SET start_ns = start_ns - 3 WHERE id = 5",
        "UPDATE ending SET counted_ns = counted_ns + 12",
    )
    assert check_session(session).wrong == []


def test_a_file_cut_short_is_told_and_not_raised(session: Path) -> None:
    path = session / "session.sqlite"
    path.write_bytes(path.read_bytes()[:9000])
    assert check_session(session).wrong != []
    path.write_bytes(b"no database" * 500)
    (line,) = check_session(session).wrong
    assert "cannot be read" in line


def test_other_versions_are_told_as_a_note(session: Path) -> None:
    change(session, "UPDATE meta SET value = '{\"numpy\": \"1.0\"}' WHERE key = 'versions'")
    found = check_session(session)
    assert found.wrong == []
    assert len(found.notes) == 1
    assert found.notes[0].startswith("recorded with numpy 1.0, recomputed with")


def test_a_session_of_an_older_schema_is_checked_like_any_other(
    session: Path, tmp_path: Path
) -> None:
    found = check_session(older_session(session, tmp_path / "old", 2))
    assert (found.wrong, found.n_inputs) == ([], 840)


@pytest.fixture(scope="module")
def ridden(
    tmp_path_factory: pytest.TempPathFactory, reference_recording: Path, ridden_target: Target
) -> Path:
    """A visit after two trials, with a third under way that was cut off before its log began."""
    folder = tmp_path_factory.mktemp("visits") / "visit"
    data_folder = folder.parent / "data"
    visit = begin_visit(folder, data_folder, ridden_target)
    for _ in range(2):
        ride_trial(visit, reference_recording, data_folder)
    begin_trial(visit)
    visit.close()
    return folder


@pytest.fixture
def visit(ridden: Path, tmp_path: Path) -> Path:
    shutil.copytree(ridden, tmp_path / "visit")
    return tmp_path / "visit"


def test_a_good_visit_is_whole_with_all_its_trials(visit: Path) -> None:
    found = check_visit(visit)
    assert found.all_wrong == []
    assert found.notes == ["trials/m03-t1-hoods-1 was cut off before its log began"]
    assert [trial.folder.name for trial in found.trials] == ["m01-t1-hoods-1", "m02-t1-hoods-1"]
    for trial in found.trials:
        assert trial.totals is not None
        assert trial.totals.n_counted == GOAL_STROKES
    assert found.state.run is not None


CLOSED = "kind = 'trial closed' AND seq = (SELECT max(seq) FROM acts WHERE kind = 'trial closed')"


@pytest.mark.parametrize(
    ("statement", "told"),
    [
        (
            "UPDATE acts SET payload = replace(payload, '\"n_confirmed\":10', '\"n_confirmed\":11')"
            f" WHERE {CLOSED}",
            "m02-t1-hoods-1 was closed with 11 counted strokes .* its log gives 10",
        ),
        ("DELETE FROM acts WHERE kind = 'mounting begun'", "some are missing"),
        (
            "UPDATE acts SET t_ns = 0 WHERE kind = 'mounting ended'",
            "is earlier than the one before",
        ),
        (
            "UPDATE acts SET kind = 'wait over', payload = '{}' WHERE kind = 'mounting ended'",
            "was not possible: No trial is under way",
        ),
        ("UPDATE acts SET kind = 'yawn' WHERE seq = 2", "unknown kind 'yawn'"),
    ],
)
def test_acts_that_were_changed_are_found(visit: Path, statement: str, told: str) -> None:
    change(visit, statement, file="visit.sqlite")
    found = check_visit(visit)
    assert any(re.search(told, line) for line in found.all_wrong), found.all_wrong


def test_a_trial_that_is_gone_changed_or_not_known_is_found(visit: Path) -> None:
    trials = visit / "trials"
    shutil.rmtree(trials / "m01-t1-hoods-1")
    change(trials / "m02-t1-hoods-1", "DELETE FROM intervals")
    (trials / "m09-t1-hoods-1").mkdir()
    found = check_visit(visit)
    assert found.wrong == [
        "The log of trials/m01-t1-hoods-1 is gone.",
        "Nothing in the record speaks of trials/m09-t1-hoods-1.",
    ]
    assert found.trials[0].wrong == ["0 intervals are recorded, 1 come out of the inputs."]


def test_a_trial_against_another_target_is_found(
    visit: Path, reference_recording: Path, ridden_target: Target
) -> None:
    other = replace(ridden_target, hands="drops")
    folder = visit / "trials" / "m03-t1-hoods-1"
    settings = Settings(data_folder=visit.parent)
    watcher = Watcher(Source(reference_recording, "full"), other, WatchPlan(), settings, folder)
    watcher.run(lambda *_: None, lambda _: None)
    (line,) = check_visit(visit).all_wrong
    assert line.startswith("trials/m03-t1-hoods-1 was ridden against rider/bike/drops")


def test_no_visit_is_told_and_not_raised(tmp_path: Path) -> None:
    assert check_visit(tmp_path).wrong != []
    with pytest.raises(PosewatchError):
        SessionReader(tmp_path)


def test_counts_are_the_same_or_not_however_large(ridden: Path) -> None:
    assert not _alike(2000, 1500, "n_frames")
    assert not _alike(2000, 2001, "n_frames")
    assert _alike(5_000_000_000, 5_000_000_900, "counted_ns")
    assert not _alike(5_000_000_000, 5_000_001_100, "counted_ns")
