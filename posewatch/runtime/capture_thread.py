"""Pictures read on the thread ``capture``, paced by their times or as fast as they are used."""

from __future__ import annotations

from collections.abc import Callable

from posewatch.core.sources import PictureSource, TimedPicture
from posewatch.runtime import clock
from posewatch.runtime.handover import Backlog, LatestSlot
from posewatch.runtime.read_ahead import Readable, ReadAhead

#: Pictures decoded ahead when every one is handled.
AHEAD = 4
#: Paced, so many may wait: one slow picture must not cost the next, and none may grow old.
NEWEST = 2


class CapturedPictures(ReadAhead[TimedPicture]):
    """A ``PictureSource`` that reads another one on a thread of its own.

    Paced: each picture comes at its own time from the moment the first is asked for, the newest
    wins, overwritten ones are counted. Otherwise every picture is handled.

    Args:
        open_source: opens the source, on that thread.
        paced: play at the pictures' own pace.

    Raises:
        PosewatchError: whatever opening the source raises.
    """

    def __init__(self, open_source: Callable[[], PictureSource], paced: bool) -> None:
        self._paced = paced
        self._begun_ns = clock.monotonic_ns()
        super().__init__("capture", open_source, LatestSlot(NEWEST) if paced else Backlog(AHEAD))

    def now_ns(self) -> int:
        """Return the time on the pictures' clock: since the first was asked for."""
        return clock.monotonic_ns() - self._begun_ns

    def _hand_over(self, source: Readable[TimedPicture]) -> None:
        if not self._paced:
            super()._hand_over(source)
            return
        self._begun_ns = clock.monotonic_ns()
        for picture in source:
            due_ns = self._begun_ns + picture.t_ns
            if not clock.wait_until(due_ns, self._stop) or not self._handover.put(picture):
                return
