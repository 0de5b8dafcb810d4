"""The description says what every column means, what was held, and what must not be forgotten."""

from __future__ import annotations

import json
import sqlite3
from pathlib import Path
from typing import Any

import pytest
from made_visits import VisitMaker

from posewatch.core.records import CONVENTION
from posewatch.export.description import describe, stamps
from posewatch.export.exporting import tables_of
from posewatch.export.recorded import Recorded, read_recorded
from posewatch.trials.acts import DataLocked, Revealed
from posewatch.trials.concealment import EARLY_STAMP

CREATED = "2025-03-02T10:00:00+00:00"


def described(recorded: Recorded) -> dict[str, Any]:
    text = describe(recorded, tables_of(recorded), CREATED, named=False)
    assert "NaN" not in text
    found: dict[str, Any] = json.loads(text)
    return found


def test_every_column_of_every_table_is_explained(recorded: Recorded) -> None:
    told = described(recorded)["tables"]
    for table in tables_of(recorded):
        assert told[table.name]["rows"] == len(table.rows)
        assert list(told[table.name]["columns"]) == [one.name for one in table.columns]
        assert all(one["meaning"] for one in told[table.name]["columns"].values())


def test_names_of_columns_are_unique_and_rows_fit_them(recorded: Recorded) -> None:
    for table in tables_of(recorded):
        names = [one.name for one in table.columns]
        assert len(set(names)) == len(names)
        assert {len(row) for row in table.rows} <= {len(names)}


def test_definitions_limits_plan_and_versions_are_there(
    recorded: Recorded, made: VisitMaker
) -> None:
    told = described(recorded)
    assert told["angles"] == CONVENTION
    assert told["created"] == CREATED
    assert told["plan"]["design"]["seed"] == made.plan.design.seed
    assert told["plan_sha256"] == made.plan_sha256
    assert told["sealed_code_list_sha256"] == made.sealed.sha256
    assert told["codes"] == list(made.sealed.codes)
    trial = told["trials"][3]
    assert (trial["mounting"], trial["hands"], trial["discarded"]) == (2, "hoods", None)
    assert trial["limits"]["torso"]["tolerance"] == 3.0
    assert trial["limits"]["torso"]["unit"] == "deg"
    # Four rpm either way is what a planned cadence is held to.
    assert trial["limits"]["cadence"] == {
        "unit": "rpm",
        "tolerance": 4.0,
        "inner": pytest.approx(3.4),
        "shape": None,
        "centre": 90.0,
        "required": True,
    }
    assert set(trial["versions"]) >= {"posewatch", "numpy"}
    assert trial["measuring_chain"]["model_name"] == "full"
    assert "rider/bike/hoods/v0" in told["targets"]


def test_what_was_left_out_is_counted_by_why(recorded: Recorded, uneven_watch: Path) -> None:
    connection = sqlite3.connect(uneven_watch / "session.sqlite")
    ((n_strokes,),) = connection.execute("SELECT COUNT(*) FROM strokes").fetchall()
    ((n_counted,),) = connection.execute("SELECT n_counted FROM ending").fetchall()
    connection.close()
    told = described(recorded)
    assert told["strokes"] == 5 * n_strokes
    assert sum(told["strokes_not_counted"].values()) == 5 * (n_strokes - n_counted)
    for trial in told["trials"]:
        assert sum(trial["strokes_not_counted"].values()) == n_strokes - n_counted


def test_stamps_of_a_first_look_that_goes_on(recorded: Recorded) -> None:
    assert stamps(recorded) == [
        "indication only",
        "visit 1 was ridden from recordings, faster than life",
        "the data of visit 1 are not locked yet",
        "2 of 7 planned mountings were ridden",
    ]


def test_a_reveal_before_the_lock_and_a_rehearsal_are_stamped(
    made: VisitMaker, uneven_watch: Path
) -> None:
    early = Revealed(0, "the fitter", "curious", True, made.sealed.sha256)
    late = Revealed(0, "the fitter", "all is done", False, made.sealed.sha256)
    lock = DataLocked(0, "the analyst")
    forced = read_recorded([made.visit("a", uneven_watch, (early, lock), rehearsal=True)])
    assert EARLY_STAMP in stamps(forced)
    assert "visit 1 is a rehearsal: nothing in it counts" in stamps(forced)
    in_order = read_recorded([made.visit("b", uneven_watch, (lock, late), fast=False)])
    assert stamps(in_order) == ["indication only", "2 of 7 planned mountings were ridden"]
    told = described(in_order)["visits"][0]
    assert told["locked_by"] == "the analyst"
    assert told["reveals"][0]["why"] == "all is done"


def test_a_watch_alone_has_no_stamp_of_a_plan(watch: Path) -> None:
    recorded = read_recorded([watch])
    told = described(recorded)
    assert (told["stamps"], told["plan"], told["visits"]) == ([], None, [])


def test_another_chain_is_stamped(watch: Path) -> None:
    connection = sqlite3.connect(watch / "session.sqlite")
    connection.execute("UPDATE ending SET message = 'other chain: near side: left / right'")
    connection.commit()
    connection.close()
    recorded = read_recorded([watch])
    assert stamps(recorded) == ["other chain: a target was captured with another measuring chain"]
    assert described(recorded)["trials"][0]["chain_differs"] == [
        "other chain: near side: left / right"
    ]


def test_steps_of_the_wall_clock_are_named(watch: Path) -> None:
    hour_ns = 3_600_000_000_000
    connection = sqlite3.connect(watch / "session.sqlite")
    connection.execute(
        "UPDATE meta SET value = json_set(value, '$.n_frames', 0) WHERE key = 'stream'"
    )
    connection.execute("DELETE FROM anchors")
    connection.executemany(
        "INSERT INTO anchors (t_ns, wall_ns) VALUES (?, ?)",
        [(0, 0), (10_000_000_000, 10_000_000_000), (20_000_000_000, 20_000_000_000 + hour_ns)],
    )
    connection.commit()
    connection.close()
    (trial,) = described(read_recorded([watch]))["trials"]
    assert trial["times_of_a_recording"] is False
    assert trial["clock_jumps"] == [{"after_s": 10.0, "before_s": 20.0, "jump_s": 3600.0}]


def test_a_watch_that_was_cut_off_is_told(watch: Path) -> None:
    connection = sqlite3.connect(watch / "session.sqlite")
    connection.execute("DELETE FROM ending")
    connection.commit()
    connection.close()
    assert described(read_recorded([watch]))["trials"][0]["ended"] == "cut off"
