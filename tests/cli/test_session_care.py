"""``posewatch session list``, ``check`` and ``delete`` as their user sees them."""

from __future__ import annotations

import contextlib
import json
import os
import sqlite3
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from command_runs import Run
from ridden_visits import begin_trial, begin_visit, ride_trial

from posewatch.cli.screen import TABLE_COLUMNS
from posewatch.core.envelope import Target
from posewatch.store.in_use import SESSION_LOCK, locked

Watch = Callable[[Path], Path]


@pytest.fixture
def watch(run: Run, reference_recording: Path, target_file: Path) -> Watch:
    def watched(folder: Path) -> Path:
        source = ("--source", reference_recording, "--target", target_file)
        assert run("watch", *source, "--fast", "--headless", "--session", folder).status == 0
        return folder

    return watched


@pytest.fixture
def data_folder() -> Path:
    """The data folder of the settings in force."""
    text = Path(os.environ["POSEWATCH_SETTINGS"]).read_text(encoding="utf-8")
    return Path(json.loads(text.partition("=")[2]))


@pytest.fixture
def visit(data_folder: Path, reference_recording: Path, ridden_target: Target) -> Path:
    """A visit that was left after one trial."""
    folder = data_folder / "visits" / "first"
    folder.parent.mkdir(parents=True)
    under_way = begin_visit(folder, data_folder, ridden_target, keep_until="9999-12-31")
    ride_trial(under_way, reference_recording, data_folder)
    begin_trial(under_way)
    under_way.close()
    return folder


def change(file: Path, statement: str) -> None:
    with contextlib.closing(sqlite3.connect(file)) as connection:
        assert connection.execute(statement).rowcount == 1
        connection.commit()


def test_nothing_is_listed_where_nothing_is(run: Run, data_folder: Path) -> None:
    assert run("session", "list").out == f"nothing is recorded in {data_folder}\n"
    ran = run("session", "list", data_folder / "gone")
    assert (ran.status, ran.out) == (2, "")
    assert "There is no folder" in ran.err


def test_watches_and_visits_are_listed_with_what_is_unfinished_and_overdue(
    run: Run, watch: Watch, visit: Path, data_folder: Path
) -> None:
    old = watch(data_folder / "sessions" / "old")
    change(
        old / "session.sqlite", "UPDATE meta SET value = '\"2025-01-31\"' WHERE key = 'keep_until'"
    )
    cut_off = watch(data_folder / "sessions" / "cut")
    change(cut_off / "session.sqlite", "DELETE FROM ending")
    ran = run("session", "list")
    assert (ran.status, ran.err) == (0, "")
    lines = ran.out.splitlines()
    assert max(map(len, lines)) <= TABLE_COLUMNS
    (old_line,) = (line for line in lines if "sessions/old" in line.replace("\\", "/"))
    assert "source ended" in old_line
    assert "2025-01-31 OVERDUE" in old_line
    (cut_line,) = (line for line in lines if "sessions/cut" in line.replace("\\", "/"))
    assert "cut off" in cut_line
    assert "OVERDUE" not in cut_line
    (visit_line,) = (line for line in lines if "visits/first" in line.replace("\\", "/"))
    assert "rider/bike, shorts, visit 1" in visit_line
    assert "unfinished" in visit_line
    assert "9999-12-31" in visit_line
    assert lines[-2] == f"3 in {data_folder}, 2 unfinished"
    assert lines[-1].startswith("1 should have been deleted by now")


def test_the_days_to_keep_are_a_setting(run: Run, watch: Watch, tmp_path: Path) -> None:
    assert "kept until" not in run("session", "show", watch(tmp_path / "without")).out
    settings = Path(os.environ["POSEWATCH_SETTINGS"])
    settings.write_text(settings.read_text(encoding="utf-8") + "keep_days = 3000000\n")
    assert "keep_days cannot be 3000000" in run("session", "list").err
    text = settings.read_text(encoding="utf-8").replace("3000000", "30")
    settings.write_text(text, encoding="utf-8")
    watch(tmp_path / "s")
    with contextlib.closing(sqlite3.connect(tmp_path / "s" / "session.sqlite")) as connection:
        (kept,) = connection.execute(
            "SELECT julianday(json_extract((SELECT value FROM meta WHERE key = 'keep_until'), '$'))"
            " - julianday(date('now', 'localtime'))"
        ).fetchone()
    assert round(kept) in (29, 30)  # midnight may have passed
    assert "\nto be kept until 20" in run("session", "show", tmp_path / "s").out


def test_a_good_watch_checks_out(run: Run, watch: Watch, tmp_path: Path) -> None:
    ran = run("session", "check", watch(tmp_path / "s"))
    assert (ran.status, ran.err) == (0, "")
    assert ran.out.startswith("s: 900 inputs, ")
    assert ran.last_line == "whole, and all as its inputs give it"


def test_what_differs_is_told_with_exit_status_1(run: Run, watch: Watch, tmp_path: Path) -> None:
    folder = watch(tmp_path / "s")
    change(folder / "session.sqlite", "UPDATE intervals SET n_strokes = n_strokes - 1")
    ran = run("session", "check", folder)
    assert (ran.status, ran.err) == (1, "")
    assert ran.out.splitlines()[-2:] == [
        "NOT as it should be:",
        "  Interval 1 is recorded otherwise than it comes out of the inputs: n_strokes.",
    ]


def test_a_visit_is_checked_with_its_trials(run: Run, visit: Path) -> None:
    ran = run("session", "check", visit)
    assert (ran.status, ran.err) == (0, "")
    lines = ran.out.splitlines()
    assert lines[0].startswith("visit of ")
    assert lines[1].startswith("m01-t1-hoods-1: ")
    assert "10 counted in 1 intervals" in lines[1]
    assert lines[-3:] == [
        "  trials/m02-t1-hoods-1 was cut off before its log began",
        "the visit is not over: `posewatch trial run` goes on with it",
        "whole, and all as its inputs give it",
    ]
    change(visit / "trials" / "m01-t1-hoods-1" / "session.sqlite", "DELETE FROM intervals")
    ran = run("session", "check", visit)
    assert ran.status == 1
    assert "0 intervals are recorded, 1 come out of the inputs." in ran.out


def test_what_is_neither_watch_nor_visit_cannot_be_checked(run: Run, tmp_path: Path) -> None:
    ran = run("session", "check", tmp_path)
    assert (ran.status, ran.out) == (2, "")
    assert "is neither a watch nor a visit" in ran.err


def test_deleting_tells_every_file_and_asks_once(
    run: Run, watch: Watch, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = watch(tmp_path / "s")
    (folder / "note.txt").touch()
    answers = tmp_path / "answers"
    answers.write_text("n\n", encoding="utf-8")
    with answers.open(encoding="utf-8") as file:
        monkeypatch.setattr(sys, "stdin", file)
        ran = run("session", "delete", folder)
    assert ran.status == 1
    assert "Delete 2 files for good? [y/N]:" in ran.out
    assert (folder / "session.sqlite").exists()
    answers.write_text("y\n", encoding="utf-8")
    with answers.open(encoding="utf-8") as file:
        monkeypatch.setattr(sys, "stdin", file)
        ran = run("session", "delete", folder)
    assert ran.status == 0
    assert [line.strip() for line in ran.out.splitlines()[:2]] == [
        str(folder / "note.txt"),
        str(folder / "session.sqlite"),
    ]
    assert ran.last_line.endswith(f"deleted 2 files; nothing is left of {folder}")
    assert not folder.exists()


def test_a_visit_is_deleted_as_a_whole(run: Run, visit: Path) -> None:
    ran = run("session", "delete", visit / "trials" / "m01-t1-hoods-1", "--yes")
    assert ran.status == 2
    assert "is a trial of the visit" in ran.err
    ran = run("session", "delete", visit, "--yes")
    assert (ran.status, ran.err) == (0, "")
    assert str(visit / "trials" / "m01-t1-hoods-1" / "session.sqlite") in ran.out
    assert not visit.exists()


def test_what_is_written_or_none_of_ours_is_not_deleted(
    run: Run, watch: Watch, tmp_path: Path
) -> None:
    folder = watch(tmp_path / "s")
    lock = locked(folder / SESSION_LOCK)
    ran = run("session", "delete", folder, "--yes")
    lock.release()
    assert ran.status == 2
    assert "is being written" in ran.err
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "file").touch()
    ran = run("session", "delete", tmp_path / "mine", "--yes")
    assert ran.status == 2
    assert "is no session or visit" in ran.err
    assert (tmp_path / "mine" / "file").exists()
    assert (folder / "session.sqlite").exists()
