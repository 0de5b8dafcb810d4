"""Keeps the video of a watch: what it needs, and the thread that writes it."""

from __future__ import annotations

from contextlib import AbstractContextManager, nullcontext
from pathlib import Path
from typing import TYPE_CHECKING

from posewatch.core.disk_room import VIDEO_BEGINS_BYTES
from posewatch.core.sources import StreamInfo
from posewatch.core.video_use import FOLDER, VideoUse
from posewatch.errors import BadInput
from posewatch.runtime.disk_watch import require_room
from posewatch.runtime.overseeing import Oversight
from posewatch.runtime.video_thread import VideoThread
from posewatch.watched_source import Source

if TYPE_CHECKING:
    from posewatch.camera.video_file import VideoFile


def require_pictures(source: Source) -> None:
    """Refuse a video of what has no pictures.

    Raises:
        BadInput: the source is recorded landmarks.
    """
    if source.is_recording:
        raise BadInput(
            f"{source.name} holds landmarks and no pictures: no video can be kept of it.",
            "Leave --video out, or watch a camera or a clip.",
        )


def require_video(source: Source, session: Path) -> None:
    """Refuse a video that could not be kept, before anything is opened.

    Raises:
        BadInput: the source has no pictures, or the drive has too little room.
    """
    require_pictures(source)
    require_room(session, VIDEO_BEGINS_BYTES)


def video_thread(
    use: VideoUse | None, session: Path | None, info: StreamInfo, oversight: Oversight | None
) -> VideoThread | None:
    """Return what keeps the video of a watch, not yet begun; None = none is kept.

    session: the log's folder, which is there before the thread begins. info: of the pictures.
    """
    if use is None or session is None or oversight is None:
        return None
    from posewatch.camera.video_file import VideoFile

    blur, folder = use.blur_faces, session / FOLDER

    def open_file() -> VideoFile:
        return VideoFile(folder, info, blur)

    return VideoThread(open_file, use, oversight.pictures, oversight.health)


def while_watching(video: VideoThread | None) -> AbstractContextManager[object]:
    """Return the context in which a video is kept; at its end all of it is written."""
    return nullcontext() if video is None else video
