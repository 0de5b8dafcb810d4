"""A check of a video finds what does not fit the session, and what was cut off is no fault."""

from __future__ import annotations

import contextlib
import shutil
import sqlite3
from pathlib import Path

import pytest
from made_rides import find_rider
from made_videos import N_PICTURES, USE, short_clip, watcher

from posewatch.checking import check_session
from posewatch.core.envelope import Target
from posewatch.runtime import video_thread
from posewatch.video_checking import video_words


@pytest.fixture(scope="module")
def watched(tmp_path_factory: pytest.TempPathFactory, ridden_target: Target) -> Path:
    folder = tmp_path_factory.mktemp("watched")
    with pytest.MonkeyPatch.context() as patch:
        find_rider(patch)
        patch.setattr(video_thread, "WAITING", 1000)
        clip = short_clip(folder / "clip.mkv")
        watcher(clip, ridden_target, folder / "s").run(lambda *_: None, lambda _: None)
    return folder / "s"


@pytest.fixture
def session(watched: Path, tmp_path: Path) -> Path:
    """A finished watch with a video, to be damaged."""
    shutil.copytree(watched, tmp_path / "s")
    return tmp_path / "s"


def change(session: Path, statement: str) -> None:
    with contextlib.closing(sqlite3.connect(session / "session.sqlite")) as connection:
        assert connection.execute(statement).rowcount == 1
        connection.commit()


def times(session: Path) -> Path:
    return session / "video" / "times.csv"


def lines(session: Path) -> list[str]:
    return times(session).read_text(encoding="utf-8").splitlines(keepends=True)


def cut_off(session: Path) -> None:
    change(session, "DELETE FROM ending")


def test_a_good_one_is_good_and_told(session: Path) -> None:
    found = check_session(session)
    assert found.wrong == []
    assert found.notes == [f"video: {N_PICTURES} of {N_PICTURES} pictures, faces blurred"]
    assert video_words(session, USE, N_PICTURES) == (
        f"video: {N_PICTURES} of {N_PICTURES} pictures, faces blurred, in {session / 'video'}"
    )


def test_a_video_that_the_rider_took_back_is_no_fault(session: Path) -> None:
    shutil.rmtree(session / "video")
    found = check_session(session)
    assert found.wrong == []
    assert found.notes == ["video: it is not there any more"]
    assert video_words(session, USE, N_PICTURES) == "video: it is not there any more"


def test_a_video_that_nobody_agreed_to_is_wrong(session: Path) -> None:
    change(session, "UPDATE meta SET value = 'null' WHERE key = 'video'")
    assert check_session(session).wrong == [
        "There is a video, and the session says that none was agreed to."
    ]


def test_a_picture_without_its_time_is_found(session: Path) -> None:
    times(session).write_text("".join(lines(session)[:-1]), encoding="utf-8")
    assert check_session(session).wrong == [
        f"The video has {N_PICTURES} pictures, and times for {N_PICTURES - 1}."
    ]


def test_a_time_that_does_not_rise_is_found(session: Path) -> None:
    given = lines(session)
    given[5] = "5,0.000000000\n"
    times(session).write_text("".join(given), encoding="utf-8")
    assert check_session(session).wrong == ["The time of picture 5 of the video does not rise."]


def test_a_time_of_no_picture_is_found(session: Path) -> None:
    given = lines(session)
    given[2] = "2,0.040000000\n"
    times(session).write_text("".join(given), encoding="utf-8")
    (wrong,) = check_session(session).wrong
    assert wrong.startswith("The session has no picture at 0.040 s, but its video has")


def test_a_table_of_times_that_is_gone_is_found(session: Path) -> None:
    times(session).unlink()
    (wrong,) = check_session(session).wrong
    assert "times.csv cannot be read" in wrong
    assert "times.csv cannot be read" in video_words(session, USE, N_PICTURES)


def test_a_video_that_cannot_be_opened_is_found(session: Path) -> None:
    (session / "video" / "video.mkv").write_bytes(b"")
    assert check_session(session).wrong == [
        f"The video has 0 pictures, and times for {N_PICTURES}."
    ]
    assert "of its 90 pictures none can be seen" in video_words(session, USE, N_PICTURES)


def test_pictures_of_another_size_are_found(session: Path) -> None:
    change(
        session,
        "UPDATE meta SET value = json_set(value, '$.width_px', 642) WHERE key = 'stream'",
    )
    assert "The video's pictures are 640 x 480, those that were watched 642 x 480." in (
        check_session(session).wrong
    )


def test_what_was_cut_off_fits_as_far_as_it_goes(session: Path) -> None:
    """Killed: the container's end is missing, and the log's last half second."""
    cut_off(session)
    change(session, f"DELETE FROM inputs WHERE seq = {N_PICTURES + 1}")
    video = session / "video" / "video.mkv"
    data = video.read_bytes()
    video.write_bytes(data[: len(data) * 3 // 4])
    times(session).write_text("".join(lines(session))[:-3], encoding="utf-8")
    found = check_session(session)
    assert found.wrong == []
    (note,) = found.notes
    assert note.startswith("video: cut off, ")
    assert note.endswith(f" of its {N_PICTURES - 1} pictures can be seen, faces blurred")
    assert 0 < int(note.split()[3]) < N_PICTURES
    assert f"video: cut off, {N_PICTURES - 1} pictures" in video_words(session, USE, None)


def test_before_the_kill_a_foreign_time_is_wrong_too(session: Path) -> None:
    cut_off(session)
    given = lines(session)
    given[2] = "2,0.040000000\n"
    times(session).write_text("".join(given), encoding="utf-8")
    assert len(check_session(session).wrong) == 1
