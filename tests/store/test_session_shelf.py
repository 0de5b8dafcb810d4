"""Watches and visits that are found under a folder, and how each stands."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from posewatch.core.outputs import Phase, StrokeJudged
from posewatch.core.records import Tick, Verdict
from posewatch.store.session_header import SessionEnding, SessionHeader
from posewatch.store.session_shelf import Recording, counted, list_recordings
from posewatch.store.session_writer import SessionWriter

S = 1_000_000_000


def stroke(number: int, counts: bool = True) -> StrokeJudged:
    start_ns = number * S
    phase = Phase.IN_POSITION if counts else Phase.STEADYING
    return StrokeJudged(start_ns, start_ns + S, Verdict.GOOD, counts, phase, (), None)


def test_watches_are_listed_oldest_first_with_their_standing(
    tmp_path: Path, header: SessionHeader, ending: SessionEnding
) -> None:
    late = replace(header, created="2025-03-02T00:00:00+00:00", keep_until="2025-04-01")
    with SessionWriter.create(tmp_path / "a" / "late", late) as writer:
        writer.finish(ending)
    with SessionWriter.create(tmp_path / "cut off", header) as writer:
        for number in range(9):
            writer.add_output(stroke(number))
        writer.commit()
    (tmp_path / "targets").mkdir()
    under_way = SessionWriter.create(tmp_path / "z", replace(header, created="2025-03-03"))
    with under_way:
        found = list_recordings(tmp_path)
    assert [one.folder.name for one in found] == ["cut off", "late", "z"]
    assert [one.standing for one in found] == ["cut off", "stopped", "being written"]
    assert [one.is_unfinished for one in found] == [True, False, True]
    assert [one.n_counted for one in found] == [9, 21, 0]
    assert found[1].of == "Zoë 2/road-1/hoods"
    path = tmp_path / "a" / "late" / "session.sqlite"
    assert found[1].n_bytes == path.stat().st_size
    assert not any(one.is_visit for one in found)
    assert list_recordings(tmp_path)[2].standing == "cut off"


def test_what_cannot_be_read_is_listed_as_such(tmp_path: Path) -> None:
    (tmp_path / "broken").mkdir()
    (tmp_path / "broken" / "session.sqlite").write_bytes(b"no database" * 500)
    (one,) = list_recordings(tmp_path)
    assert one.standing.startswith("cannot be read: The session")
    assert (one.created, one.is_unfinished, one.n_bytes) == ("", False, 5500)


def test_an_empty_or_missing_folder_lists_nothing(tmp_path: Path) -> None:
    assert list_recordings(tmp_path) == []
    assert list_recordings(tmp_path / "gone") == []


@pytest.mark.parametrize(
    ("keep_until", "overdue"),
    [("", False), ("2025-04-01", False), ("2025-03-31", True), ("whenever", False)],
)
def test_a_recording_is_overdue_after_its_day(keep_until: str, overdue: bool) -> None:
    one = Recording(Path(), False, "", "", "", False, 0, 0, keep_until)
    assert one.is_overdue(date(2025, 4, 1)) is overdue


def test_counted_strokes_of_a_watch_that_was_cut_off_include_the_run_under_way(
    tmp_path: Path, header: SessionHeader
) -> None:
    """Nine adjacent ones count, seven of a later run do not: runs count from eight on."""
    with SessionWriter.create(tmp_path / "s", header) as writer:
        writer.add_input(0, Tick(0))
        for number in (*range(9), *range(20, 27)):
            writer.add_output(stroke(number))
        writer.add_output(stroke(40, counts=False))
        writer.commit()
    assert counted(tmp_path / "s") == (9, 9 * S)
