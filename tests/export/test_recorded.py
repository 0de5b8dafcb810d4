"""What is read for an export: one watch, cut off or not, or visits that belong together."""

from __future__ import annotations

import shutil
import sqlite3
from pathlib import Path

import pytest
from made_visits import VisitMaker

from posewatch.errors import BadInput
from posewatch.export.recorded import Recorded, read_recorded, read_watched, runs


def change(watch: Path, *statements: str) -> None:
    connection = sqlite3.connect(watch / "session.sqlite")
    for statement in statements:
        connection.execute(statement)
    connection.commit()
    connection.close()


def test_a_watch_alone_is_a_trial_without_plan_and_code(watch: Path) -> None:
    found = read_recorded([watch])
    (trial,) = found.trials
    assert (found.visits, trial.visit, trial.planned, trial.code) == ((), None, None, "")
    assert trial.hands == "hoods"
    assert trial.watched is not None
    assert [(one.number, one.label, one.withdrawn) for one in trial.watched.marks] == [
        (1, "towel, wet; größer", False),
        (2, "", True),
    ]


def test_strokes_give_the_very_intervals_that_were_logged(watch: Path) -> None:
    watched = read_watched(watch)
    assert len(watched.intervals) > 3
    assert runs(watched.strokes) == watched.intervals


def test_a_watch_that_was_cut_off_has_its_last_run(watch: Path) -> None:
    whole = read_watched(watch)
    change(watch, "DELETE FROM ending", "DELETE FROM intervals WHERE id > 2")
    cut_off = read_watched(watch)
    assert cut_off.ending is None
    assert cut_off.intervals == whole.intervals


def test_a_recordings_wall_time_is_that_of_its_beginning(watch: Path) -> None:
    change(watch, "INSERT INTO anchors (t_ns, wall_ns) VALUES (40000000000, 99)")
    watched = read_watched(watch)
    assert watched.recording
    assert len(watched.clock.anchors) == 1


def test_a_live_watchs_wall_time_is_from_all_readings(watch: Path) -> None:
    change(
        watch,
        """UPDATE meta SET value = json_set(value, '$.n_frames', 0) WHERE key = 'stream'""",
        "DELETE FROM anchors",
        *(f"INSERT INTO anchors (t_ns, wall_ns) VALUES ({t}, {t} + 7)" for t in (0, 10, 20)),
    )
    watched = read_watched(watch)
    assert not watched.recording
    assert watched.clock.anchors == ((0, 7), (10, 17), (20, 27))
    assert read_watched(watch, faster_than_life=True).clock.anchors == ((0, 7),)


def test_trials_of_a_visit_carry_plan_code_and_attempt(
    recorded: Recorded, made: VisitMaker
) -> None:
    assert [
        (one.run.mounting, one.run.trial, one.run.attempt, one.hands, one.code)
        for one in recorded.trials
        if one.run is not None
    ] == [
        (mounting, trial, attempt, hands, made.sealed.codes[made.plan.mountings[mounting - 1].slot])
        for mounting, trial, attempt, hands in (
            (1, 1, 1, "hoods"),
            (1, 1, 2, "hoods"),
            (1, 2, 1, "drops"),
            (2, 1, 1, "hoods"),
            (2, 2, 1, "drops"),
        )
    ]


def test_a_trial_without_a_log_is_there_without_it(visited: Path) -> None:
    shutil.rmtree(visited / "trials" / "m01-t2-drops-1")
    trials = read_recorded([visited]).trials
    assert [one.watched is None for one in trials] == [False, False, True, False, False]


def test_visits_of_one_plan_come_in_its_order(made: VisitMaker, uneven_watch: Path) -> None:
    second = made.visit("b", uneven_watch, number=2)
    first = made.visit("c", uneven_watch, number=1)
    found = read_recorded([second, first])
    assert [visit.folder for visit in found.visits] == [first, second]
    assert [trial.visit for trial in found.trials] == [1] * 5 + [2] * 5


def test_what_does_not_belong_together_is_refused(
    made: VisitMaker, uneven_watch: Path, visited: Path, watch: Path
) -> None:
    other = made.visit("other", uneven_watch, number=2, sealed_sha256="0" * 64)
    again = made.visit("again", uneven_watch, number=1)
    for folders, words in (
        ([visited, other], "do not share a plan and a code list"),
        ([visited, again], "is visit 1, and so is another one"),
        ([visited, visited / ".." / visited.name], "named twice"),
        ([visited, watch], "is no visit"),
    ):
        with pytest.raises(BadInput, match=words):
            read_recorded(folders)


def test_an_act_that_could_not_have_been_is_told_with_its_number(visited: Path) -> None:
    connection = sqlite3.connect(visited / "visit.sqlite")
    connection.execute("DELETE FROM acts WHERE kind = 'mounting begun'")
    connection.commit()
    connection.close()
    with pytest.raises(BadInput, match=r"act \d+ could not have been"):
        read_recorded([visited])


def test_no_folder_is_changed(visited: Path, watch: Path) -> None:
    def state(folder: Path) -> dict[str, bytes]:
        return {str(p): p.read_bytes() for p in folder.rglob("*") if p.is_file()}

    before = state(visited), state(watch)
    read_recorded([visited])
    read_recorded([watch])
    assert (state(visited), state(watch)) == before
