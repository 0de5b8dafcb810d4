"""Does the video of a watch fit its session? Read, counted, compared; nothing is changed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path

from posewatch.core.records import VIDEO, Frame, Input, SourceCondition, SourceState
from posewatch.core.timebase import to_s
from posewatch.core.video_use import FOLDER, VideoUse
from posewatch.errors import BadInput
from posewatch.store.session_header import SessionHeader

#: What the log says where the video ended before the watch.
ENDED_EARLY = (SourceCondition.LOST, SourceCondition.FULL)


@dataclass(slots=True)
class LoggedPictures:
    """What a session's inputs say of its pictures.

    times_ns: when there were some. ended_early: the video went on for less long than the watch.
    """

    times_ns: set[int] = field(default_factory=set)
    ended_early: bool = False

    def hear(self, item: Input) -> None:
        """Take in one input."""
        if isinstance(item, Frame):
            self.times_ns.add(item.t_ns)
        elif isinstance(item, SourceState) and item.source == VIDEO:
            self.ended_early |= item.condition in ENDED_EARLY


@dataclass(slots=True)
class VideoCheck:
    """What a check of a video found. wrong, notes: as of a session."""

    wrong: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


def check_video(
    session: Path,
    header: SessionHeader,
    logged: LoggedPictures,
    finished: bool,
    on_picture: Callable[[], None] = lambda: None,
) -> VideoCheck:
    """Check the video in a session's folder. on_picture: called with every picture.

    A video that is not there any more is no fault: a rider may take that agreement back alone.
    """
    found, folder = VideoCheck(), session / FOLDER
    if header.video is None:
        if folder.exists():
            found.wrong.append("There is a video, and the session says that none was agreed to.")
        return found
    if not folder.exists():
        found.notes.append("video: it is not there any more")
        return found
    from posewatch.camera.kept_video import read_times, see_all

    whole = finished and not logged.ended_early
    try:
        times_ns = read_times(folder, whole)
    except BadInput as error:
        found.wrong.append(error.what)
        return found
    found.wrong += _misfits(times_ns, logged, finished)
    seen = see_all(folder, on_picture)
    size = (header.stream.width_px & ~1, header.stream.height_px & ~1)  # the encoder wants it even
    if seen.n_pictures and (seen.width_px, seen.height_px) != size:
        found.wrong.append(
            f"The video's pictures are {seen.width_px} x {seen.height_px}, those that were watched "
            f"{header.stream.width_px} x {header.stream.height_px}."
        )
    if whole and seen.n_pictures != len(times_ns):
        found.wrong.append(
            f"The video has {seen.n_pictures} pictures, and times for {len(times_ns)}."
        )
    there = f"{seen.n_pictures} of {len(logged.times_ns)} pictures"
    if not whole:
        there = f"cut off, {seen.n_pictures} of its {len(times_ns)} pictures can be seen"
    found.notes.append(f"video: {there}, {header.video.words}")
    return found


def _misfits(times_ns: list[int], logged: LoggedPictures, finished: bool) -> list[str]:
    """Hold the times of a video against those of the session's pictures."""
    for number, (before_ns, t_ns) in enumerate(pairwise(times_ns), 2):
        if t_ns <= before_ns:
            return [f"The time of picture {number} of the video does not rise."]
    # What was watched last before a kill may be in the video and not yet in the log.
    last_ns = max(logged.times_ns, default=-1)
    foreign = [
        t_ns for t_ns in times_ns if t_ns not in logged.times_ns and (finished or t_ns <= last_ns)
    ]
    if not foreign:
        return []
    return [
        f"The session has no picture at {to_s(foreign[0]):.3f} s, but its video has "
        f"({len(foreign)} such times)."
    ]


def video_words(session: Path, use: VideoUse, n_frames: int | None) -> str:
    """Say what there is of a video, at a glance.

    n_frames: pictures that were watched, None = it was cut off, and the log too.
    """
    folder = session / FOLDER
    if not folder.exists():
        return "video: it is not there any more"
    from posewatch.camera.kept_video import n_closed_with, read_times

    try:
        n = len(read_times(folder, whole=False))
    except BadInput as error:
        return f"video: {error.what.removesuffix('.')}"
    n_there = n_closed_with(folder)
    if n_there is None:
        return f"video: of its {n} pictures none can be seen; {folder}"
    there = f"{n} of {n_frames} pictures"
    if n_frames is None or n_there != n:
        there = f"cut off, {n} pictures at the most"
    return f"video: {there}, {use.words}, in {folder}"
