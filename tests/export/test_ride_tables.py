"""Every number in the CSV of what was ridden is the one in the session's database."""

from __future__ import annotations

import csv
import json
import math
import sqlite3
from collections import defaultdict
from datetime import datetime
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from posewatch.export.exporting import export
from posewatch.export.recorded import read_recorded

Rows = list[dict[str, str]]


def read_csv(path: Path) -> Rows:
    """Read a table as RFC 4180 has it, with the standard library's reader."""
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def query(watch: Path, statement: str) -> list[tuple[Any, ...]]:
    """Ask the session's database itself, past all of the program's readers."""
    connection = sqlite3.connect(watch / "session.sqlite")
    try:
        return connection.execute(statement).fetchall()
    finally:
        connection.close()


@pytest.fixture
def exported(watch: Path, tmp_path: Path) -> Path:
    export(read_recorded([watch]), tmp_path / "out")
    return tmp_path / "out"


def ns(text: str) -> int:
    """Return the nanoseconds that a cell's seconds stand for."""
    return round(float(text) * 1e9)


def test_strokes_and_channels_are_those_of_the_database(watch: Path, exported: Path) -> None:
    rows = read_csv(exported / "strokes.csv")
    kept = query(
        watch,
        "SELECT start_ns, end_ns, verdict, counted, phase, reason, channels FROM strokes "
        "ORDER BY id",
    )
    expected = [
        (number, *stroke[:6], channel)
        for number, stroke in enumerate(kept, 1)
        for channel in json.loads(stroke[6])
    ]
    assert len(kept) > 60
    assert len(rows) == len(expected)
    for row, (number, start_ns, end_ns, verdict, counted, phase, reason, channel) in zip(
        rows, expected, strict=True
    ):
        assert int(row["stroke"]) == number
        assert (ns(row["start_s"]), ns(row["end_s"])) == (start_ns, end_ns)
        assert float(row["duration_s"]) == pytest.approx((end_ns - start_ns) / 1e9, abs=1e-12)
        assert float(row["cadence_rpm"]) == pytest.approx(60e9 / (end_ns - start_ns), rel=1e-12)
        assert (row["verdict"], row["phase"]) == (verdict, phase)
        # What the database calls counted is in a run, which may be too short.
        assert bool(row["interval"]) == bool(counted)
        assert (row["counted"] == "true") == (not row["not_counted_because"])
        assert reason is None or reason in row["not_counted_because"]
        assert row["channel"] == channel["channel"]
        assert row["channel_verdict"] == channel["verdict"]
        assert row["required"] == ("true" if channel["required"] else "false")
        for column, key in (
            ("deviation_in_unit", "deviation"),
            ("spread_in_unit", "spread"),
            ("along_in_unit", "along"),
            ("up_in_unit", "up"),
        ):
            value = channel[key]
            known = value is not None and not math.isnan(value)
            assert row[column] == (repr(value) if known else "")
            assert not known or float(row[column]) == value


def test_what_counts_adds_up_to_the_sessions_totals(watch: Path, exported: Path) -> None:
    n_counted, counted_ns, n_intervals = query(
        watch, "SELECT n_counted, counted_ns, n_intervals FROM ending"
    )[0]
    strokes = {row["stroke"]: row for row in read_csv(exported / "strokes.csv")}.values()
    assert sum(row["counted"] == "true" for row in strokes) == n_counted
    counted = [row for row in strokes if row["counted"] == "true"]
    assert sum(ns(row["end_s"]) - ns(row["start_s"]) for row in counted) == counted_ns
    (trial,) = read_csv(exported / "trials.csv")
    assert int(trial["counted"]) == n_counted
    assert ns(trial["counted_s"]) == counted_ns
    assert int(trial["intervals"]) == n_intervals
    assert int(trial["strokes"]) == len(strokes)


def test_intervals_are_those_of_the_database_whole_and_cut_at_strokes(
    watch: Path, exported: Path
) -> None:
    whole = read_csv(exported / "intervals.csv")
    kept = query(watch, "SELECT start_ns, end_ns, n_strokes, confirmed FROM intervals ORDER BY id")
    assert [
        (ns(row["start_s"]), ns(row["end_s"]), int(row["strokes"]), row["counted"] == "true")
        for row in whole
    ] == [(*one[:3], bool(one[3])) for one in kept]
    assert {bool(one[3]) for one in kept} == {True, False}
    pieces: dict[str, Rows] = defaultdict(list)
    for row in read_csv(exported / "interval_strokes.csv"):
        pieces[row["interval"]].append(row)
    assert list(pieces) == [row["interval"] for row in whole]
    for row in whole:
        cut = pieces[row["interval"]]
        # The pieces are the whole: end to end, without a gap.
        assert cut[0]["start_s"] == row["start_s"]
        assert cut[-1]["end_s"] == row["end_s"]
        assert all(a["end_s"] == b["start_s"] for a, b in pairwise(cut))
        assert len(cut) == int(row["strokes"])
        assert {piece["counted"] for piece in cut} == {row["counted"]}


def test_reasons_say_what_happened_in_the_ride(exported: Path) -> None:
    strokes = {row["stroke"]: row for row in read_csv(exported / "strokes.csv")}.values()
    reasons = {row["not_counted_because"] for row in strokes}
    assert {
        "",
        "steadying",
        "out of band: torso",
        "run of under 8 strokes",
        "unknown: too few frames believed",
    } <= reasons


def test_wall_times_are_iso_8601_in_utc(watch: Path, exported: Path) -> None:
    # A recording runs faster than life: its wall time is that of its beginning plus its own time.
    ((t_ns, wall_ns),) = query(watch, "SELECT t_ns, wall_ns FROM anchors ORDER BY id LIMIT 1")
    for table in ("strokes", "intervals", "interval_strokes", "trials", "events"):
        for row in read_csv(exported / f"{table}.csv"):
            for moment in ("start", "end"):
                text = row.get(f"{moment}_utc")
                if text is None:
                    continue
                assert text.endswith("Z")
                at = datetime.fromisoformat(text).timestamp()
                meant_ns = wall_ns - t_ns + ns(row[f"{moment}_s"])
                assert at == pytest.approx(meant_ns / 1e9, abs=2e-6)


def test_events_are_those_of_the_database(watch: Path, exported: Path) -> None:
    kept = query(
        watch, "SELECT kind, t_ns, end_ns, n_strokes, reason, channel, direction FROM events"
    )
    assert [
        (row["event"], ns(row["start_s"]), row["end_s"] and ns(row["end_s"]))
        + (row["strokes"], row["reason"], row["channel"], row["detail"])
        for row in read_csv(exported / "events.csv")
    ] == [
        (kind, t_ns, end_ns or "", str(n or ""), reason or "", channel or "", way or "")
        for kind, t_ns, end_ns, n, reason, channel, way in kept
    ]


def test_pandas_reads_the_same_numbers(watch: Path, exported: Path) -> None:
    pandas = pytest.importorskip("pandas")
    table = pandas.read_csv(exported / "strokes.csv")
    kept = query(watch, "SELECT start_ns, end_ns FROM strokes ORDER BY id")
    once = table.drop_duplicates("stroke")
    assert (once.start_s * 1e9).round().astype("int64").tolist() == [one[0] for one in kept]
    assert table.counted.dtype == bool
