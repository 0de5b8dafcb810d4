"""Landmarks found on the thread ``pose``, while the pipeline is still at the picture before."""

from __future__ import annotations

import threading
from collections.abc import Callable

from posewatch.core.records import Seen
from posewatch.core.sources import FrameSource, PoseModelInfo
from posewatch.runtime.handover import Backlog
from posewatch.runtime.read_ahead import ReadAhead

#: Frames that wait for the pipeline; one more may be in the thread's hand.
AHEAD = 1


class PosedFrames(ReadAhead[Seen]):
    """A ``FrameSource`` that reads another one on a thread of its own, losing nothing.

    A pose library wants its model made, used and closed by one thread: this one.

    Args:
        open_source: opens the source, on that thread.
        give_up: ends the wait for it to open.

    Raises:
        PosewatchError: whatever opening the source raises.
        GaveUp: give_up was set.
    """

    model: PoseModelInfo

    def __init__(
        self, open_source: Callable[[], FrameSource], give_up: threading.Event | None = None
    ) -> None:
        def open_and_name() -> FrameSource:
            source = open_source()
            self.model = source.model
            return source

        super().__init__("pose", open_and_name, Backlog(AHEAD), give_up)
