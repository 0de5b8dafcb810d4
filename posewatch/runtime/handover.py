"""Handing things from one thread to the next: the newest wins, nothing is lost, or what fits."""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable
from typing import Generic, Protocol, TypeVar

T = TypeVar("T")


class NothingYet(Exception):
    """Nothing came in the time that was given."""


class Handover(Protocol[T]):
    """One thread puts, another takes; after close, take gives what is left and then None.

    take waits for an item, or for so many seconds and then raises NothingYet.
    """

    n_overwritten: int

    def put(self, item: T) -> bool: ...

    def take(self, timeout_s: float | None = None) -> T | None: ...

    def close(self) -> None: ...


class _Deque(Generic[T]):
    """A deque with a lock and a bell; what a full one does is told by the subclasses."""

    def __init__(self, size: int) -> None:
        self._items: deque[T] = deque()
        self._size = size
        self._bell = threading.Condition()
        self._closed = False
        self.n_overwritten = 0

    def __len__(self) -> int:
        return len(self._items)

    def take(self, timeout_s: float | None = None) -> T | None:
        """Wait for an item; None = closed and empty.

        Raises:
            NothingYet: none came within timeout_s.
        """
        with self._bell:
            if not self._bell.wait_for(lambda: self._items or self._closed, timeout_s):
                raise NothingYet
            item = self._items.popleft() if self._items else None
            self._bell.notify_all()
            return item

    def close(self) -> None:
        """Let both sides go on: nothing more comes in, what is inside may be taken."""
        with self._bell:
            self._closed = True
            self._bell.notify_all()


#: About five seconds of pictures.
HURRIED = 150


class LatestSlot(_Deque[T]):
    """Holds the newest items, one by default; a newer one pushes the oldest out, and is counted.

    More than one ride out a taker's slow moment. A taker that is always too slow would only ever
    get old ones: once an item was pushed out, only the newest is held for the next HURRIED puts.
    """

    def __init__(self, size: int = 1) -> None:
        super().__init__(size)
        self._hurried = 0

    def put(self, item: T) -> bool:
        """Hand over an item, at once. False = closed."""
        with self._bell:
            if self._closed:
                return False
            size = 1 if self._hurried else self._size
            self._hurried = max(0, self._hurried - 1)
            while len(self._items) >= size:
                self._items.popleft()
                self.n_overwritten += 1
                self._hurried = HURRIED
            self._items.append(item)
            self._bell.notify_all()
            return True


class Backlog(_Deque[T]):
    """Holds up to size items and loses none: a full one makes the giver wait."""

    def put(self, item: T) -> bool:
        """Hand over an item, waiting for room. False = closed, the item was not taken."""
        with self._bell:
            self._bell.wait_for(lambda: len(self._items) < self._size or self._closed)
            if self._closed:
                return False
            self._items.append(item)
            self._bell.notify_all()
            return True


class UntilFull(_Deque[T]):
    """Holds up to size items; a full one takes no more, so that the giver never waits."""

    def put(self, item: T) -> bool:
        """Hand over an item, at once. False = full or closed, the item was not taken."""
        with self._bell:
            if self._closed or len(self._items) >= self._size:
                return False
            self._items.append(item)
            self._bell.notify_all()
            return True


class Worker(threading.Thread):
    """A named thread that keeps what its work raised for the thread that joins it."""

    def __init__(self, name: str, work: Callable[[], None]) -> None:
        super().__init__(name=name, daemon=True)
        self._work = work
        self.error: BaseException | None = None

    def run(self) -> None:
        """Do the work."""
        try:
            self._work()
        except BaseException as error:
            self.error = error
