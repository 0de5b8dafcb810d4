"""Deleting a recording: all of it and of what was made of it, and nothing else."""

from __future__ import annotations

import os
import sqlite3
from pathlib import Path

import pytest

from posewatch.errors import BadInput, PosewatchError
from posewatch.store.derived import note_derived
from posewatch.store.removal import plan_removal, plan_video_removal, remove
from posewatch.store.session_header import SessionEnding, SessionHeader
from posewatch.store.session_writer import SessionWriter

LINKS = pytest.mark.skipif(os.name != "posix", reason="links need a right of their own there")


@pytest.fixture
def session(tmp_path: Path, header: SessionHeader, ending: SessionEnding) -> Path:
    folder = tmp_path / "sessions" / "one"
    with SessionWriter.create(folder, header) as writer:
        writer.finish(ending)
    return folder


def left(folder: Path) -> list[str]:
    return sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*"))


def test_all_inside_goes_the_record_last(session: Path, tmp_path: Path) -> None:
    (session / "video").mkdir()
    (session / "video" / "times.csv").touch()
    (session / "a picture.png").touch()
    removal = plan_removal(session)
    names = [path.relative_to(session).as_posix() for path in removal.files]
    assert names == ["a picture.png", "video/times.csv", "session.sqlite"]
    assert left(session) != []
    remove(removal)
    assert left(tmp_path) == ["sessions"]


def test_what_was_made_elsewhere_goes_too_unless_somebody_changed_it(
    session: Path, tmp_path: Path
) -> None:
    made = tmp_path / "export"
    made.mkdir()
    for name in ("strokes.csv", "intervals.csv"):
        (made / name).write_text(name, encoding="utf-8")
    (tmp_path / "figure.svg").write_text("figure", encoding="utf-8")
    note_derived(session, [made / "strokes.csv", made / "intervals.csv"], made)
    note_derived(session, [tmp_path / "figure.svg"])
    (made / "intervals.csv").write_text("with notes of mine", encoding="utf-8")
    (made / "mine.txt").touch()
    removal = plan_removal(session)
    assert removal.kept == (made / "intervals.csv",)
    remove(removal)
    assert left(tmp_path) == ["export", "export/intervals.csv", "export/mine.txt", "sessions"]


def test_a_folder_made_for_an_export_goes_when_it_is_empty(session: Path, tmp_path: Path) -> None:
    made = tmp_path / "export"
    made.mkdir()
    (made / "strokes.csv").touch()
    note_derived(session, [made / "strokes.csv"], made)
    remove(plan_removal(session))
    assert left(tmp_path) == ["sessions"]


def test_a_video_alone_can_go(session: Path, tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="There is no video in"):
        plan_video_removal(session)
    for place in (session, session / "trials" / "m01-t1-hoods-1", session / "mine"):
        (place / "video").mkdir(parents=True)
        (place / "video" / "video.mkv").touch()
    removal = plan_video_removal(session)
    names = [path.relative_to(session).as_posix() for path in removal.files]
    assert names == ["video/video.mkv", "trials/m01-t1-hoods-1/video/video.mkv"]
    remove(removal)
    assert left(session) == [
        *("mine", "mine/video", "mine/video/video.mkv", "session.sqlite"),
        *("trials", "trials/m01-t1-hoods-1"),
    ]


@LINKS
def test_a_link_goes_and_what_it_leads_to_stays(session: Path, tmp_path: Path) -> None:
    (tmp_path / "theirs").mkdir()
    (tmp_path / "theirs" / "file").touch()
    (session / "link").symlink_to(tmp_path / "theirs")
    (session / "file link").symlink_to(tmp_path / "theirs" / "file")
    remove(plan_removal(session))
    assert left(tmp_path) == ["sessions", "theirs", "theirs/file"]


def test_a_session_that_was_cut_off_goes_with_its_write_ahead_log(
    tmp_path: Path, header: SessionHeader
) -> None:
    folder = tmp_path / "s"
    with SessionWriter.create(folder, header):
        for path in list(folder.iterdir()):
            (tmp_path / f"copy of {path.name}").write_bytes(path.read_bytes())
    for path in tmp_path.glob("copy of *"):
        path.rename(folder / path.name.removeprefix("copy of "))
    assert "session.sqlite-wal" in left(folder)
    removal = plan_removal(folder)
    assert removal.files[-1].name == "session.sqlite"
    remove(removal)
    assert left(tmp_path) == []


def test_one_that_is_being_written_is_refused(tmp_path: Path, header: SessionHeader) -> None:
    with (
        SessionWriter.create(tmp_path / "s", header),
        pytest.raises(BadInput, match="is being written"),
    ):
        plan_removal(tmp_path / "s")
    with (
        SessionWriter.create(tmp_path / "t", header),
        pytest.raises(BadInput, match="is being written"),
    ):
        plan_video_removal(tmp_path / "t")
    assert left(tmp_path) == ["s", "s/session.sqlite", "t", "t/session.sqlite"]


@pytest.mark.parametrize(
    "kind", ["missing", "empty", "garbage", "foreign", pytest.param("link", marks=LINKS), "file"]
)
def test_what_is_none_of_ours_is_refused(session: Path, tmp_path: Path, kind: str) -> None:
    folder = tmp_path / kind
    if kind == "link":
        folder.symlink_to(session)
    elif kind == "file":
        folder.touch()
    elif kind != "missing":
        folder.mkdir()
    if kind == "garbage":
        (folder / "session.sqlite").write_bytes(b"no database" * 500)
    if kind == "foreign":
        connection = sqlite3.connect(folder / "session.sqlite")
        connection.execute("CREATE TABLE meta (key, value)")
        connection.execute("INSERT INTO meta VALUES ('format', 'another program')")
        connection.commit()
        connection.close()
    with pytest.raises(BadInput, match=r"no folder|no session or visit"):
        plan_removal(folder)
    assert (session / "session.sqlite").exists()


def test_a_file_that_cannot_be_deleted_is_told_and_the_record_stays(
    session: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (session / "video.mkv").touch()
    unlink = Path.unlink

    def guarded(path: Path, missing_ok: bool = False) -> None:
        if path.name == "video.mkv":
            raise PermissionError(13, "Permission denied")
        unlink(path, missing_ok=missing_ok)

    removal = plan_removal(session)
    monkeypatch.setattr(Path, "unlink", guarded)
    with pytest.raises(PosewatchError, match=r"video.mkv cannot be deleted \(Permission denied\)"):
        remove(removal)
    monkeypatch.undo()
    remove(plan_removal(session))
    assert not session.exists()
