"""Two pose models or more at one source: pictures are dealt in turn, frames come back in turn.

A pose model follows the person from picture to picture, so each must see every n-th picture, and
always the same ones: whoever is free would make the numbers depend on the machine's mood.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator, Sequence

from posewatch.core.records import Frame, Seen
from posewatch.core.sources import FrameSource, PictureSource, StreamInfo, TimedPicture
from posewatch.runtime.handover import Backlog, Worker
from posewatch.runtime.pose_thread import PosedFrames


class DealtPictures:
    """One model's share of the pictures; a ``PictureSource`` that the dealer fills."""

    def __init__(self, info: StreamInfo) -> None:
        self.info = info
        self.hand: Backlog[TimedPicture] = Backlog(1)

    def __iter__(self) -> Iterator[TimedPicture]:
        while (picture := self.hand.take()) is not None:
            yield picture

    def close(self) -> None:
        """Take no more; closing twice is harmless."""
        self.hand.close()


class FramesInTurn:
    """Frames of one source by several models; a ``FrameSource``, with ``polled`` as they have.

    Args:
        pictures: the source; read on the thread ``deal``, closed with this.
        open_models: one a model: makes its frames of its share of the pictures, on its thread.
        give_up: ends the wait for the models to open.

    Raises:
        PosewatchError: whatever opening a model raises.
        GaveUp: give_up was set.
    """

    def __init__(
        self,
        pictures: PictureSource,
        open_models: Sequence[Callable[[PictureSource], FrameSource]],
        give_up: threading.Event | None = None,
    ) -> None:
        self._pictures = pictures
        self._shares = [DealtPictures(pictures.info) for _ in open_models]
        self._frames: list[PosedFrames] = []
        self._dealer = Worker("deal", self._deal)
        try:
            for share, open_model in zip(self._shares, open_models, strict=True):
                self._frames.append(PosedFrames(_opener(open_model, share), give_up))
        except BaseException:
            self.close()
            raise
        self.info, self.model = pictures.info, self._frames[0].model
        self._dealer.start()

    def __iter__(self) -> Iterator[Seen]:
        for item in self.polled(None):
            assert item is not None
            yield item

    def polled(self, timeout_s: float | None) -> Iterator[Seen | None]:
        """Give frames in the pictures' order, and None whenever nothing came for so long."""
        turns = [frames.polled(timeout_s) for frames in self._frames]
        turn = 0
        while True:
            try:
                item = next(turns[turn])
            except StopIteration:
                break
            yield item
            if isinstance(item, Frame):
                turn = (turn + 1) % len(turns)
        if self._dealer.error is not None:
            raise self._dealer.error

    def close(self) -> None:
        """End all threads; closing twice is harmless."""
        self._pictures.close()
        for share in self._shares:
            share.close()
        for frames in self._frames:
            frames.close()
        if self._dealer.ident is not None:
            self._dealer.join()

    def _deal(self) -> None:
        try:
            for n, picture in enumerate(self._pictures):
                if not self._shares[n % len(self._shares)].hand.put(picture):
                    return
        finally:
            for share in self._shares:
                share.close()


def _opener(
    open_model: Callable[[PictureSource], FrameSource], share: PictureSource
) -> Callable[[], FrameSource]:
    return lambda: open_model(share)
