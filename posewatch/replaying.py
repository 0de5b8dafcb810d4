"""A session's inputs fed to the pipeline again: the same strokes and valid intervals come out."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

from posewatch.core.judge import Task
from posewatch.core.outputs import Output, ValidInterval
from posewatch.core.plane import plane_map
from posewatch.core.records import Input
from posewatch.runtime.watch_run import WatchRun, WatchTotals
from posewatch.store.session_header import SessionHeader
from posewatch.store.session_reader import SessionReader


@dataclass(frozen=True, slots=True)
class Recomputed:
    """What inputs give: outputs while they came, and the last ones, said at the end of a watch."""

    outputs: tuple[Output, ...]
    last: tuple[Output, ...]
    totals: WatchTotals


@dataclass(frozen=True, slots=True)
class ReplayResult:
    """A session computed anew from its inputs, beside what was recorded."""

    n_inputs: int
    outputs: tuple[Output, ...]
    recorded: tuple[ValidInterval, ...]
    finished: bool

    @property
    def intervals(self) -> tuple[ValidInterval, ...]:
        """The valid intervals computed anew."""
        return tuple(o for o in self.outputs if isinstance(o, ValidInterval))

    @property
    def same(self) -> bool:
        """Whether the intervals are the recorded ones; an unfinished session may end with fewer."""
        if self.finished:
            return self.intervals == self.recorded
        return self.intervals[: len(self.recorded)] == self.recorded


def recompute(header: SessionHeader, inputs: Iterable[Input]) -> Recomputed:
    """Feed inputs to the pipeline as a watch did."""
    outputs: list[Output] = []
    run = WatchRun(
        Task(header.target, header.plan),
        header.chain,
        None if header.profile is None else plane_map(header.profile),
        inputs,
        lambda entry: outputs.extend(entry.outputs),
        lambda *_: None,
        threading.Event(),
    )
    run.follow()
    totals, last = run.end()
    return Recomputed(tuple(outputs), last, totals)


def replay(folder: Path, on_input: Callable[[int], None]) -> ReplayResult:
    """Feed a session's inputs to the pipeline again. on_input is told how many were fed.

    Raises:
        BadInput: the folder is no session, or is damaged.
    """
    n_inputs = 0

    with SessionReader(folder) as reader:

        def inputs() -> Iterable[Input]:
            nonlocal n_inputs
            for n_inputs, (_, item) in enumerate(reader.inputs(), 1):
                yield item
                on_input(n_inputs)

        found = recompute(reader.header, inputs())
        recorded = tuple(reader.intervals())
        outputs = (*found.outputs, *found.last)
        return ReplayResult(n_inputs, outputs, recorded, reader.ending is not None)
