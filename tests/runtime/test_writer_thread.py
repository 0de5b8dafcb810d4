"""The session log on the writer thread."""

from __future__ import annotations

import threading

import pytest

from posewatch.core.outputs import HoldGained, Output
from posewatch.core.records import CLOCK, Input, SourceCondition, SourceState, Tick
from posewatch.errors import PosewatchError
from posewatch.runtime import clock, writer_thread
from posewatch.runtime.writer_thread import COMMIT_EVERY_NS, Entry, LogWriter

FULL = PosewatchError("The drive is full.", "Make room.")


class Memory:
    """A log that remembers what it was told, and fails at one input if asked to."""

    def __init__(self, fail_at: int | None = None, fail_at_end: bool = False) -> None:
        self.said: list[tuple[str, object]] = []
        self.threads: set[str] = set()
        self._fail_at = fail_at
        self._fail_at_end = fail_at_end

    def _say(self, what: str, value: object = None) -> None:
        self.said.append((what, value))
        self.threads.add(threading.current_thread().name)

    def add_input(self, seq: int, item: Input) -> None:
        if seq == self._fail_at:
            raise FULL
        self._say("input", seq)

    def add_output(self, output: Output) -> None:
        self._say("output", output)

    def add_wall_time(self, t_ns: int, wall_ns: int) -> None:
        self._say("wall", t_ns)

    def commit(self) -> None:
        self._say("commit")

    def finish(self, ending: str) -> None:
        if self._fail_at_end:
            raise FULL
        self._say("finish", ending)

    def close(self) -> None:
        self._say("close")

    def told(self, *kinds: str) -> list[object]:
        return [value for what, value in self.said if what in kinds]


def entry(seq: int) -> Entry:
    return Entry(seq, Tick(seq), (HoldGained(seq),))


def test_everything_is_written_in_order_and_ends_with_the_ending() -> None:
    log = Memory()
    writer: LogWriter[str] = LogWriter(lambda: log)
    for seq in range(5000):
        writer.add(entry(seq))
    writer.finish((HoldGained(-1),), "the end")
    expected = [value for seq in range(5000) for value in (seq, HoldGained(seq))]
    assert log.told("input", "output") == [*expected, HoldGained(-1)]
    assert [what for what, _ in log.said[-2:]] == ["finish", "close"]
    assert log.told("finish") == ["the end"]
    assert log.threads == {"writer"}


def test_commits_and_wall_time_come_by_the_clock(monkeypatch: pytest.MonkeyPatch) -> None:
    """The clock goes on by half a commit's time with every entry."""
    times = iter(range(0, 10**15, COMMIT_EVERY_NS // 2))
    monkeypatch.setattr(clock, "monotonic_ns", lambda: next(times))
    log = Memory()
    writer: LogWriter[str] = LogWriter(lambda: log)
    for seq in range(100):
        writer.add(entry(seq))
    writer.close()
    # 100 entries are 25 s: a commit with every other one, and one at the close.
    assert len(log.told("commit")) == 51
    assert log.told("wall") == [0, 40, 80]


def test_what_came_before_a_silence_is_made_safe(monkeypatch: pytest.MonkeyPatch) -> None:
    """The source says nothing more, and nobody ends it: its last word must not wait for a next."""
    committed = threading.Event()

    class Telling(Memory):
        def commit(self) -> None:
            super().commit()
            if self.told("input") == [0, 1]:
                committed.set()

    monkeypatch.setattr(writer_thread, "COMMIT_EVERY_NS", 20_000_000)
    log = Telling()
    writer: LogWriter[str] = LogWriter(lambda: log)
    writer.add(entry(0))
    writer.add(entry(1))
    assert committed.wait(5.0)
    assert writer.committed_ns > 0
    writer.close()


def test_a_step_of_the_wall_clock_is_anchored_at_once() -> None:
    log = Memory()
    writer: LogWriter[str] = LogWriter(lambda: log)
    for seq in range(20):
        writer.add(entry(seq))
    writer.add(Entry(20, SourceState(20, CLOCK, SourceCondition.STEPPED), ()))
    writer.add(entry(21))
    writer.close()
    assert log.told("wall") == [0, 20]


def test_an_anchor_has_the_session_s_time_of_now_where_that_is_known() -> None:
    """An input is older: its picture went through the model first."""
    log = Memory()
    writer: LogWriter[str] = LogWriter(lambda: log, lambda: 777)
    writer.add(entry(5))
    writer.close()
    assert log.told("wall") == [777]


def test_closing_without_an_ending_keeps_what_was_added() -> None:
    log = Memory()
    writer: LogWriter[str] = LogWriter(lambda: log)
    writer.add(entry(0))
    writer.close()
    assert log.told("input") == [0]
    assert [what for what, _ in log.said[-2:]] == ["commit", "close"]
    assert not log.told("finish")


def test_a_log_that_cannot_be_opened_is_told_at_once() -> None:
    def refuse() -> Memory:
        raise FULL

    with pytest.raises(PosewatchError, match="The drive is full"):
        LogWriter(refuse)


def test_a_failure_surfaces_at_the_next_entry_and_stays() -> None:
    log = Memory(fail_at=3)
    writer: LogWriter[str] = LogWriter(lambda: log)

    def add_many() -> None:
        for seq in range(1_000_000):
            writer.add(entry(seq))

    with pytest.raises(PosewatchError, match="The drive is full"):
        add_many()
    assert log.told("input") == [0, 1, 2]
    with pytest.raises(PosewatchError, match="The drive is full"):
        writer.add(entry(9))
    with pytest.raises(PosewatchError, match="The drive is full"):
        writer.finish((), "the end")
    with pytest.raises(PosewatchError, match="The drive is full"):
        writer.close()
    assert not log.told("finish")
    assert log.said[-1] == ("close", None)


def test_a_failure_in_the_ending_surfaces() -> None:
    writer: LogWriter[str] = LogWriter(lambda: Memory(fail_at_end=True))
    writer.add(entry(0))
    with pytest.raises(PosewatchError, match="The drive is full"):
        writer.finish((), "the end")
