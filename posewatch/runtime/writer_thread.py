"""The session log on a thread of its own: nothing is lost, and a failure stops the watch."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Generic, Protocol, TypeVar

from posewatch.core.outputs import Output
from posewatch.core.records import CLOCK, NS_PER_S, Input, SourceState
from posewatch.runtime import clock
from posewatch.runtime.handover import Backlog, NothingYet, Worker

COMMIT_EVERY_NS = NS_PER_S // 2
ANCHOR_EVERY_NS = 10 * NS_PER_S
#: A minute's frames: a drive that stands still for longer is a fault.
BACKLOG = 2000

Ending = TypeVar("Ending")
EndingIn = TypeVar("EndingIn", contravariant=True)


class Log(Protocol[EndingIn]):
    """Where inputs and outputs go; used by one thread only."""

    def add_input(self, seq: int, item: Input) -> None: ...

    def add_output(self, output: Output) -> None: ...

    def add_wall_time(self, t_ns: int, wall_ns: int) -> None: ...

    def commit(self) -> None: ...

    def finish(self, ending: EndingIn) -> None: ...

    def close(self) -> None: ...


@dataclass(frozen=True, slots=True, eq=False)
class Entry:
    """One input with its number, and what the pipeline said to it."""

    seq: int
    item: Input
    outputs: tuple[Output, ...]


class LogWriter(Generic[Ending]):
    """Writes entries on the thread ``writer``.

    committed_ns: of the last commit, monotonic clock, 0 = none yet.

    Args:
        open_log: opens the log, on that thread.
        now_ns: the time on the session clock, for the wall clock's anchors; None = it has no other
            than that of its inputs.

    Raises:
        PosewatchError: whatever opening the log raises.
    """

    def __init__(
        self, open_log: Callable[[], Log[Ending]], now_ns: Callable[[], int] | None = None
    ) -> None:
        self._open_log = open_log
        self._now_ns = now_ns
        self._entries: Backlog[Entry | Callable[[Log[Ending]], None]] = Backlog(BACKLOG)
        self._opened: Backlog[bool] = Backlog(1)
        self.committed_ns = 0
        self._worker = Worker("writer", self._write)
        self._worker.start()
        if self._opened.take() is None:
            self._join()

    @property
    def n_waiting(self) -> int:
        """Entries that are not written yet."""
        return len(self._entries)

    def add(self, entry: Entry) -> None:
        """Hand over an entry.

        Raises:
            PosewatchError: the log failed; nothing after that is kept.
        """
        if not self._entries.put(entry):
            self._join()

    def finish(self, last: tuple[Output, ...], ending: Ending) -> None:
        """Write the last outputs and the ending, and end the thread; raises as add does."""

        def end(log: Log[Ending]) -> None:
            for output in last:
                log.add_output(output)
            log.finish(ending)

        self._entries.put(end)
        self.close()

    def close(self) -> None:
        """Write what was handed over, without an ending, and end the thread."""
        self._entries.close()
        self._join()

    def _join(self) -> None:
        self._worker.join()
        if self._worker.error is not None:
            raise self._worker.error

    def _write(self) -> None:
        try:
            log = self._open_log()
            try:
                self._opened.put(True)
                self._take_entries(log)
            finally:
                log.close()
        finally:
            self._opened.close()
            self._entries.close()

    def _take_entries(self, log: Log[Ending]) -> None:
        committed_ns = anchored_ns = -ANCHOR_EVERY_NS
        while True:
            try:
                entry = self._entries.take(COMMIT_EVERY_NS / NS_PER_S)
            except NothingYet:  # what came before the silence is not kept waiting
                log.commit()
                committed_ns = self.committed_ns = clock.monotonic_ns()
                continue
            if entry is None:
                break
            if not isinstance(entry, Entry):
                entry(log)
                return
            log.add_input(entry.seq, entry.item)
            for output in entry.outputs:
                log.add_output(output)
            now_ns = clock.monotonic_ns()
            if now_ns - anchored_ns >= ANCHOR_EVERY_NS or _is_clock_step(entry.item):
                self._add_anchor(log, entry.item.t_ns)
                anchored_ns = now_ns
            if now_ns - committed_ns >= COMMIT_EVERY_NS:
                log.commit()
                committed_ns = self.committed_ns = now_ns
        log.commit()

    def _add_anchor(self, log: Log[Ending], t_ns: int) -> None:
        """Log session time beside the wall clock; the last input's time is older than now."""
        log.add_wall_time(t_ns if self._now_ns is None else self._now_ns(), clock.wall_ns())


def _is_clock_step(item: Input) -> bool:
    return isinstance(item, SourceState) and item.source == CLOCK
