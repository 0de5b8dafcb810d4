"""The video on a thread of its own: whatever becomes of it, the watch is never kept waiting."""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterator
from types import TracebackType
from typing import Protocol, Self

from posewatch.core import disk_room, video_use
from posewatch.core.records import Frame, Input, SourceState
from posewatch.core.sources import TimedPicture
from posewatch.core.video_use import VideoUse
from posewatch.errors import PosewatchError
from posewatch.runtime.handover import UntilFull, Worker
from posewatch.runtime.health import HealthMeter
from posewatch.runtime.overseeing import RecentPictures

logger = logging.getLogger(__name__)

#: Pictures that may wait to be written: half a second.
WAITING = 16
#: At the end what waits is written; a drive that does not answer is not waited for longer.
CLOSE_S = 5.0


class PictureFile(Protocol):
    """Where pictures go; used by one thread only."""

    def add(self, picture: TimedPicture, frame: Frame) -> None: ...

    def close(self) -> None: ...


class VideoThread:
    """Writes pictures on the thread ``video``, while it is entered as a context.

    A picture that finds no room is left out and counted. What fails ends the video and is told; it
    is never raised.

    Attributes:
        n_left_out: pictures that came to be watched and are not in the video.

    Args:
        open_file: opens the file, on that thread.
        use: for what is told.
        pictures: has those that were handled lately.
        health: knows how much room is left on the drive.
    """

    def __init__(
        self,
        open_file: Callable[[], PictureFile],
        use: VideoUse,
        pictures: RecentPictures,
        health: HealthMeter,
    ) -> None:
        self._open_file, self._use = open_file, use
        self._pictures, self._health = pictures, health
        self._waiting: UntilFull[tuple[TimedPicture, Frame]] = UntilFull(WAITING)
        self._worker = Worker("video", self._write)
        self.n_left_out = 0
        self._is_open = self._has_ended = False
        self._told_open = self._told_left_out = False

    def __enter__(self) -> Self:
        self._worker.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        self._waiting.close()
        self._worker.join(CLOSE_S)
        if self._worker.is_alive():
            logger.warning("The video's drive does not answer; its last pictures may be missing.")
        elif self._worker.error is not None:
            logger.warning("The video failed.", exc_info=self._worker.error)

    def seen(self, item: Input) -> None:
        """Take in what the pipeline has handled: a frame's picture is written, nothing else is."""
        if not isinstance(item, Frame) or self._has_ended:
            return
        picture, _ = self._pictures.at(item.t_ns)
        if picture is None or not self._waiting.put((picture, item)):
            self.n_left_out += 1

    def told(self, t_ns: int) -> Iterator[SourceState]:
        """Give what is to be told at session time t_ns, mostly nothing."""
        if self._has_ended:
            return
        if self._is_open and not self._told_open:
            self._told_open = True
            yield video_use.begun_told(t_ns, self._use)
        if self._worker.error is not None:
            self._has_ended = True
            yield video_use.failed_told(t_ns, _words(self._worker.error))
        elif disk_room.ends_video(self._health.disk_free_bytes):
            self._has_ended = True
            self._waiting.close()
            yield video_use.full_told(t_ns, self._health.disk_free_bytes)
        elif self.n_left_out and not self._told_left_out:
            self._told_left_out = True
            yield video_use.left_out_told(t_ns)

    def _write(self) -> None:
        try:
            file = self._open_file()
            try:
                self._is_open = True
                while (one := self._waiting.take()) is not None:
                    file.add(*one)
            finally:
                file.close()
        finally:
            self._waiting.close()


def _words(error: BaseException) -> str:
    """Return what happened as a sentence."""
    if isinstance(error, PosewatchError):
        return error.what
    if isinstance(error, OSError):
        return f"it cannot be written ({error.strerror or error})."
    return f"it failed ({type(error).__name__})."
