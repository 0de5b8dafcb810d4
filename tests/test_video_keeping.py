"""The video of a watch, from the picture to the file beside the log."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from made_rides import find_rider
from made_videos import N_PICTURES, USE, short_clip, watcher

from posewatch.camera import video_file
from posewatch.camera.kept_video import read_times, see_all
from posewatch.checking import check_session
from posewatch.core.envelope import Target
from posewatch.core.records import (
    VIDEO,
    Command,
    Frame,
    Input,
    Side,
    SourceCondition,
    SourceState,
)
from posewatch.errors import BadInput, ChainMismatch, PosewatchError
from posewatch.runtime import disk_watch, video_thread
from posewatch.store.session_header import HowEnded
from posewatch.store.session_reader import SessionReader
from posewatch.store.session_shelf import list_recordings

GB = 1_000_000_000


@pytest.fixture(scope="module")
def clip(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return short_clip(tmp_path_factory.mktemp("clips") / "short.mkv")


@pytest.fixture(autouse=True)
def _rider(monkeypatch: pytest.MonkeyPatch) -> None:
    """A model that takes no time at all would leave the encoder behind."""
    find_rider(monkeypatch)
    monkeypatch.setattr(video_thread, "WAITING", 1000)


def nothing(*_: object) -> None:
    pass


def inputs(session: Path) -> Iterator[Input]:
    with SessionReader(session) as reader:
        for _, item in reader.inputs():
            yield item


def said_of_video(session: Path) -> list[SourceCondition]:
    return [
        item.condition
        for item in inputs(session)
        if isinstance(item, SourceState) and item.source == VIDEO
    ]


def test_every_picture_is_kept_with_the_very_time_of_its_landmarks(
    clip: Path, ridden_target: Target, tmp_path: Path
) -> None:
    session = tmp_path / "s"
    result = watcher(clip, ridden_target, session).run(nothing, nothing)
    assert result.totals.n_frames == N_PICTURES
    times_ns = read_times(session / "video", whole=True)
    assert times_ns == [item.t_ns for item in inputs(session) if isinstance(item, Frame)]
    assert see_all(session / "video").n_pictures == N_PICTURES
    assert said_of_video(session) == [SourceCondition.RUNNING]
    with SessionReader(session) as reader:
        assert reader.header.video == USE
    marks = [item.text for item in inputs(session) if isinstance(item, Command)]
    assert marks == [USE.agreed]
    found = check_session(session)
    assert found.wrong == []
    assert f"video: {N_PICTURES} of {N_PICTURES} pictures, faces blurred" in found.notes


def test_a_part_of_a_clip_and_its_own_pace_change_nothing(
    clip: Path, ridden_target: Target, tmp_path: Path
) -> None:
    watching = watcher(clip, ridden_target, tmp_path / "s", paced=True)
    watching.source = replace(watching.source, start_s=1.0, end_s=1.5)
    n_frames = watching.run(nothing, nothing).totals.n_frames
    times_ns = read_times(tmp_path / "s" / "video", whole=True)
    assert len(times_ns) == n_frames
    assert times_ns[0] >= GB
    assert check_session(tmp_path / "s").wrong == []


def test_without_a_video_nothing_of_it_is_there(
    clip: Path, ridden_target: Target, tmp_path: Path
) -> None:
    with_video = watcher(clip, ridden_target, tmp_path / "with").run(nothing, nothing)
    without = watcher(clip, ridden_target, tmp_path / "s", video=None).run(nothing, nothing)
    assert not (tmp_path / "s" / "video").exists()
    assert said_of_video(tmp_path / "s") == []
    # And it changes no number.
    assert without.totals == replace(with_video.totals, watched_ns=without.totals.watched_ns)


def test_a_video_that_fails_ends_and_the_watch_goes_on(
    clip: Path, ridden_target: Target, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(self: video_file.VideoFile) -> None:
        raise PosewatchError("It does not grow.", "Look.")

    monkeypatch.setattr(video_file, "GROWS_WITHIN", 10)
    monkeypatch.setattr(video_file.VideoFile, "_require_growth", fail)
    session = tmp_path / "s"
    watching = watcher(clip, ridden_target, session, paced=True)
    watching.source = replace(watching.source, end_s=1.0)
    result = watching.run(nothing, nothing)
    assert result.totals.n_frames > 15
    assert said_of_video(session) == [SourceCondition.RUNNING, SourceCondition.LOST]
    with SessionReader(session) as reader:
        assert reader.ending is not None
        assert reader.ending.how is HowEnded.SOURCE_ENDED
    found = check_session(session)
    assert found.wrong == []
    (note,) = (note for note in found.notes if note.startswith("video"))
    assert note == "video: cut off, 10 of its 10 pictures can be seen, faces blurred"


def test_a_video_that_fails_with_its_last_pictures_is_logged_too(
    clip: Path, ridden_target: Target, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    closed = video_file.VideoFile.close

    def fail(file: video_file.VideoFile) -> None:
        closed(file)
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(video_file.VideoFile, "close", fail)
    watcher(clip, ridden_target, tmp_path / "s").run(nothing, nothing)
    with SessionReader(tmp_path / "s") as log:
        items = [item for _, item in log.inputs()]
        assert log.ending is not None
    last = items[-1]
    assert isinstance(last, SourceState)
    assert (last.source, last.condition) == (VIDEO, SourceCondition.LOST)
    assert last.t_ns == items[-2].t_ns


def test_a_video_ends_before_the_record_runs_out_of_room(
    clip: Path, ridden_target: Target, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    left = iter([3 * GB, 3 * GB, 3 * GB])
    monkeypatch.setattr(disk_watch, "free_bytes", lambda _: next(left, GB // 4))
    monkeypatch.setattr(disk_watch, "LOOK_EVERY_NS", 100_000_000)
    session = tmp_path / "s"
    watching = watcher(clip, ridden_target, session, paced=True)
    watching.source = replace(watching.source, end_s=1.0)
    result = watching.run(nothing, nothing)
    assert said_of_video(session)[-1] is SourceCondition.FULL
    assert len(read_times(session / "video", whole=True)) < result.totals.n_frames
    assert check_session(session).wrong == []


def test_without_room_for_a_video_nothing_begins(
    clip: Path, ridden_target: Target, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(disk_watch, "free_bytes", lambda _: GB)
    with pytest.raises(BadInput, match=r"Only 1000 MB .* 2000 MB are needed to begin"):
        watcher(clip, ridden_target, tmp_path / "s").run(nothing, nothing)
    assert not (tmp_path / "s").exists()
    watcher(clip, ridden_target, tmp_path / "s", video=None).run(nothing, nothing)


def test_of_landmarks_no_video_can_be_kept(
    reference_recording: Path, ridden_target: Target, tmp_path: Path
) -> None:
    with pytest.raises(BadInput, match="holds landmarks and no pictures"):
        watcher(reference_recording, ridden_target, tmp_path / "s").run(nothing, nothing)
    assert not (tmp_path / "s").exists()


def test_a_watch_that_never_rightly_began_leaves_no_video(
    ridden_target: Target, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A rider who faces the other way is told after three seconds."""
    clip = tmp_path / "clip.mkv"
    short_clip(clip)
    monkeypatch.setattr("posewatch.core.side_seen.SIDE_STANDS_NS", GB // 2)
    target = replace(ridden_target, side=Side.LEFT)  # he faces right
    watching = watcher(clip, target, tmp_path / "s")
    watching.any_chain = False
    monkeypatch.setattr(type(target.chain), "differences", lambda *_: [])
    with pytest.raises(ChainMismatch, match="near side"):
        watching.run(nothing, nothing)
    assert not (tmp_path / "s").exists()


def test_the_list_of_sessions_counts_the_video(
    clip: Path, ridden_target: Target, tmp_path: Path
) -> None:
    session = tmp_path / "sessions" / "s"
    watcher(clip, ridden_target, session).run(nothing, nothing)
    (one,) = list_recordings(tmp_path / "sessions")
    n_bytes = sum(path.stat().st_size for path in session.rglob("*") if path.is_file())
    assert one.n_bytes == n_bytes
    assert n_bytes > (session / "video" / "video.mkv").stat().st_size > 0
