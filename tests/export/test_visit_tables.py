"""What was asked, ticked and marked: with its place and its time, from the visit's own record."""

from __future__ import annotations

import sqlite3
from pathlib import Path
from typing import Any

import pytest
from made_visits import ZERO_NS, VisitMaker

from posewatch.export.columns import Table
from posewatch.export.recorded import Recorded, read_recorded
from posewatch.export.visit_tables import marks_table, visit_tables
from posewatch.trials.acts import DataLocked, Noted
from posewatch.trials.words import RITUAL


def records(table: Table) -> list[dict[str, Any]]:
    names = [column.name for column in table.columns]
    return [dict(zip(names, row, strict=True)) for row in table.rows]


@pytest.fixture
def tables(recorded: Recorded) -> dict[str, list[dict[str, Any]]]:
    made = [*visit_tables(recorded), marks_table(recorded)]
    return {table.name: records(table) for table in made}


Tables = dict[str, list[dict[str, Any]]]


def test_ratings_belong_to_the_trial_before_them(tables: Tables) -> None:
    rows = tables["ratings"]
    assert [(one["mounting"], one["trial"], one["attempt"]) for one in rows[::2]] == [
        (1, 1, 1),
        (1, 1, 2),
        (1, 2, 1),
        (2, 1, 1),
        (2, 2, 1),
    ]
    assert [(one["region"], one["scale"], one["value"]) for one in rows[:2]] == [
        ("front", "pain", 2.5),
        ("hands", "comfort", None),
    ]


def test_guesses_belong_to_the_mounting_that_ended(tables: Tables, made: VisitMaker) -> None:
    slots = [one.slot for one in made.plan.mountings[:2]]
    assert [
        (one["mounting"], one["code"], one["guess"], one["confidence"], one["reason"])
        for one in tables["guesses"]
    ] == [
        (1, made.sealed.codes[slots[0]], "B", 4, "felt soft"),
        (2, made.sealed.codes[slots[1]], "", 4, "felt soft"),
    ]


def test_the_check_list_has_its_words_values_and_units(tables: Tables) -> None:
    rows = {(one["mounting"], one["line"]): one for one in tables["mounting_checks"]}
    numbers = [one for one in rows.values() if one["value"]]
    assert numbers
    assert all(one["value"] == "12.5" and one["unit"] for one in numbers)
    skipped = rows[2, "straps_untwisted"]
    assert (skipped["left_out_because"], skipped["value"]) == ("has none", "")
    assert skipped["what"] == "Shoulder straps flat, not twisted"


def test_times_are_those_of_the_record(tables: Tables, visited: Path) -> None:
    connection = sqlite3.connect(visited / "visit.sqlite")
    kept = connection.execute("SELECT t_ns, wall_ns FROM acts WHERE kind = 'rated'").fetchall()
    connection.close()
    assert [(round(one["visit_s"] * 1e9), one["utc"]) for one in tables["ratings"]] == kept
    assert all(wall_ns == ZERO_NS + t_ns for t_ns, wall_ns in kept)


def test_the_reset_is_marked_step_by_step_in_its_trial(tables: Tables) -> None:
    steps = [one for one in tables["marks"] if one["kind"] == "ritual done"]
    assert [one["label"] for one in steps[:5]] == [f"moment: {moment}" for moment in RITUAL]
    assert {(one["mounting"], one["trial"], one["attempt"]) for one in steps[:5]} == {(1, 1, 1)}
    assert {(one["mounting"], one["trial"], one["attempt"]) for one in steps[5:10]} == {(1, 1, 2)}
    assert len(steps) == 5 * len(RITUAL)


def test_what_has_a_table_of_its_own_is_no_mark(tables: Tables) -> None:
    kinds = {one["kind"] for one in tables["marks"]}
    assert not kinds & {"rated", "guessed", "line done", "gauged", "item fact", "hold seen"}
    assert {"noted", "visit ended", "trial repeated", "mark"} <= kinds


def test_the_operators_marks_carry_session_seconds(tables: Tables) -> None:
    marks = [one for one in tables["marks"] if one["kind"] == "mark"]
    assert len(marks) == 2 * 5
    assert [(one["number"], one["label"], one["withdrawn"]) for one in marks[:2]] == [
        (1, "towel, wet; größer", False),
        (2, "", True),
    ]
    assert all(one["visit_s"] is None and one["session_s"] >= 0.0 for one in marks)


def test_acts_that_belong_to_no_mounting_say_none(made: VisitMaker, uneven_watch: Path) -> None:
    more = (Noted(0, "all done"), DataLocked(0, "the analyst"))
    folder = made.visit("more", uneven_watch, more)
    rows = records(marks_table(read_recorded([folder])))
    said = [
        (one["kind"], one["label"], one["mounting"], one["code"])
        for one in rows
        if one["session_s"] is None
    ]
    assert said[-2:] == [
        ("noted", "text: all done", None, ""),
        ("data locked", "who: the analyst", None, ""),
    ]
