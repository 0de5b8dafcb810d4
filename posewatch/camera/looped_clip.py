"""A clip again and again at its own pace, as if it were a camera: for rehearsal and endurance."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from pathlib import Path

from posewatch.camera.clip import Clip
from posewatch.core.sources import TimedPicture


class LoopedClip:
    """Plays a clip for ever; a ``LiveCamera``.

    Args:
        path: of the clip.
        now_ns: the monotonic clock.

    Raises:
        BadInput: the clip cannot be used.
    """

    def __init__(self, path: Path, now_ns: Callable[[], int]) -> None:
        self._clip = Clip(path)
        self.info = self._clip.info
        self._now_ns = now_ns
        self._pictures = self._for_ever()
        self._begun_ns: int | None = None
        self._closed = threading.Event()

    def read(self) -> TimedPicture | None:
        """Wait for the next picture's time and give it; None = closed."""
        picture = next(self._pictures)
        if self._begun_ns is None:
            self._begun_ns = self._now_ns()
        wait_s = (self._begun_ns + picture.t_ns - self._now_ns()) / 1e9
        if self._closed.is_set() or (wait_s > 0 and self._closed.wait(wait_s)):
            return None
        return TimedPicture(self._now_ns(), picture.rgb)

    def close(self) -> None:
        """End it; closing twice is harmless."""
        self._closed.set()
        self._clip.close()

    def _for_ever(self) -> Iterator[TimedPicture]:
        """Give the clip's pictures with times that rise from round to round."""
        begin_ns, step_ns = 0, round(1e9 / self.info.rate_hz)
        while True:
            last_ns = 0
            for picture in self._clip:
                last_ns = picture.t_ns
                yield TimedPicture(begin_ns + last_ns, picture.rgb)
            begin_ns += last_ns + step_ns
