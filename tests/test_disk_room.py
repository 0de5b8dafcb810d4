"""A watch on a drive that fills: it does not begin, or it ends in order; nothing is lost."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from ridden_visits import begin_trial, begin_visit

from posewatch.app import Watcher
from posewatch.checking import check_session
from posewatch.core.envelope import Target
from posewatch.core.records import DISK, Input, SourceCondition, SourceState
from posewatch.core.watch_plan import WatchPlan
from posewatch.errors import BadInput, PosewatchError
from posewatch.runtime import disk_watch
from posewatch.store.session_header import HowEnded
from posewatch.store.session_reader import SessionReader
from posewatch.store.session_writer import SessionWriter
from posewatch.store.settings import load_settings
from posewatch.watched_source import Source

MB = 1_000_000
N_FRAMES = 900


@pytest.fixture
def watch(
    reference_recording: Path, ridden_target: Target, tmp_path: Path
) -> Callable[[], list[Input]]:
    """Watch a ride of 30 s as fast as it goes; returns what was consumed."""

    def run() -> list[Input]:
        consumed: list[Input] = []
        source = Source(reference_recording, "full")
        watcher = Watcher(
            source, ridden_target, WatchPlan(), load_settings(), tmp_path / "new" / "s"
        )
        watcher.run(lambda item, *_: consumed.append(item), lambda _: None)
        return consumed

    return run


def test_without_room_nothing_begins_and_nothing_is_left(
    watch: Callable[[], list[Input]], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(disk_watch, "free_bytes", lambda _: 499 * MB)
    with pytest.raises(BadInput, match=r"Only 499 MB .* Free some room there"):
        watch()
    assert list(tmp_path.iterdir()) == []


def test_a_drive_that_fills_meanwhile_warns_then_ends_the_watch_in_order(
    watch: Callable[[], list[Input]], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    left = iter([900 * MB, 900 * MB, 900 * MB, 400 * MB, 300 * MB, 99 * MB])
    monkeypatch.setattr(disk_watch, "free_bytes", lambda _: next(left))
    monkeypatch.setattr(disk_watch, "LOOK_EVERY_NS", 20_000_000)
    with pytest.raises(PosewatchError, match=r"only 99 MB are left .* What was recorded is kept"):
        watch()
    folder = tmp_path / "new" / "s"
    with SessionReader(folder) as reader:
        ending = reader.ending
        told = [
            item.condition
            for _, item in reader.inputs()
            if isinstance(item, SourceState) and item.source == DISK
        ]
    assert told == [SourceCondition.LITTLE, SourceCondition.FULL]
    assert ending is not None
    assert ending.how is HowEnded.FAILED
    assert "only 99 MB are left" in ending.message
    found = check_session(folder)
    assert found.wrong == []
    assert 0 < found.n_inputs < N_FRAMES


@pytest.mark.parametrize("pages", [22, 60])
def test_a_file_that_cannot_grow_loses_nothing_that_was_committed(
    watch: Callable[[], list[Input]],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    pages: int,
) -> None:
    """SQLITE_FULL, as of a full drive (SQLite, "Result and error codes"), at a page limit."""
    create, committed = SessionWriter.create.__func__, []  # type: ignore[attr-defined]

    def limited(cls: type[SessionWriter], *arguments: object) -> SessionWriter:
        writer: SessionWriter = create(cls, *arguments)
        writer._connection.execute(f"PRAGMA max_page_count = {pages}")
        return writer

    def commit(writer: SessionWriter) -> None:
        in_it = writer._connection.execute("SELECT count(*) FROM inputs").fetchone()[0]
        kept(writer)
        committed.append(in_it)

    kept = SessionWriter.commit
    monkeypatch.setattr(SessionWriter, "create", classmethod(limited))
    monkeypatch.setattr(SessionWriter, "commit", commit)
    monkeypatch.setattr("posewatch.runtime.writer_thread.COMMIT_EVERY_NS", 1_000_000)
    with pytest.raises(
        PosewatchError, match=r"cannot be written any more \(database or disk is full\)\. Make room"
    ):
        watch()
    found = check_session(tmp_path / "new" / "s")
    assert found.wrong == []
    assert not found.finished
    assert found.n_inputs == committed[-1]
    assert 0 < found.n_inputs < N_FRAMES


def test_neither_a_visit_nor_a_trial_begins_without_room(
    ridden_target: Target, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    left = [10**12]
    monkeypatch.setattr(disk_watch, "free_bytes", lambda _: left[0])
    visit = begin_visit(tmp_path / "visit", tmp_path / "data", ridden_target)
    left[0] = 499 * MB
    with pytest.raises(BadInput, match="needed to begin"):
        begin_trial(visit)
    assert visit.state.runs == ()
    visit.close()
    (tmp_path / "visit.plan.json").unlink()
    with pytest.raises(BadInput, match="needed to begin"):
        begin_visit(tmp_path / "other", tmp_path / "more data", ridden_target)
    assert not (tmp_path / "other").exists()
