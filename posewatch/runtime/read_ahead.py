"""A source read on a thread of its own, ahead of the one who uses it."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from typing import Generic, Protocol, TypeVar

from posewatch.core.sources import StreamInfo
from posewatch.runtime.handover import Handover, NothingYet, Worker

T = TypeVar("T")
T_co = TypeVar("T_co", covariant=True)


#: How often a wait for a source that opens looks whether it is still wanted.
LOOK_EVERY_S = 0.05


class GaveUp(Exception):
    """A source was no longer wanted before it was open."""


class Readable(Protocol[T_co]):
    """What pictures and frames have in common."""

    @property
    def info(self) -> StreamInfo: ...

    def __iter__(self) -> Iterator[T_co]: ...

    def close(self) -> None: ...


class ReadAhead(Generic[T]):
    """Reads a source on a named thread; the source is opened, read and closed there.

    Reading begins when the first item is asked for: what the user does before costs no item.

    Args:
        name: of the thread.
        open_source: opens the source.
        handover: takes what was read to the one who uses it.
        give_up: set while the source is still being opened, ends the wait; the thread then closes
            what it opened by itself. None = wait.

    Raises:
        PosewatchError: whatever opening the source raises.
        GaveUp: give_up was set.
    """

    def __init__(
        self,
        name: str,
        open_source: Callable[[], Readable[T]],
        handover: Handover[T],
        give_up: threading.Event | None = None,
    ) -> None:
        self._open_source = open_source
        self._handover = handover
        self._stop = threading.Event()
        self._ready = threading.Event()
        self._asked = threading.Event()
        self._info: StreamInfo | None = None
        self._worker = Worker(name, self._read)
        self._worker.start()
        while not self._ready.wait(None if give_up is None else LOOK_EVERY_S):
            if give_up is not None and give_up.is_set():
                self._let_go()
                raise GaveUp
        if self._info is None:
            self.close()
            self._raise_error()
            raise RuntimeError(f"The thread {name} ended without a word.")
        self.info: StreamInfo = self._info

    @property
    def n_overwritten(self) -> int:
        """Items that a newer one replaced before they could be used."""
        return self._handover.n_overwritten

    def __iter__(self) -> Iterator[T]:
        for item in self.polled(None):
            assert item is not None
            yield item

    def polled(self, timeout_s: float | None) -> Iterator[T | None]:
        """Give items as they come, and None whenever nothing came for so long; None = wait."""
        self._asked.set()
        while True:
            try:
                item = self._handover.take(timeout_s)
            except NothingYet:
                yield None
                continue
            if item is None:
                break
            yield item
        self._worker.join()
        self._raise_error()

    def close(self) -> None:
        """Stop reading and end the thread; closing twice is harmless."""
        self._let_go()
        self._worker.join()

    def _let_go(self) -> None:
        self._stop.set()
        self._asked.set()
        self._handover.close()

    def _hand_over(self, source: Readable[T]) -> None:
        """Read the source to its end, or until nobody wants more; runs on the thread."""
        for item in source:
            if self._stop.is_set() or not self._handover.put(item):
                return

    def _raise_error(self) -> None:
        if self._worker.error is not None:
            raise self._worker.error

    def _read(self) -> None:
        try:
            source = self._open_source()
            try:
                self._info = source.info
                self._ready.set()
                self._asked.wait()
                self._hand_over(source)
            finally:
                source.close()
        finally:
            self._ready.set()
            self._handover.close()
