"""One watch from the first frame to the last: feeds the pipeline and the log."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

from posewatch.core import pipeline
from posewatch.core.judge import Task
from posewatch.core.measuring_chain import MeasuringChain
from posewatch.core.outputs import Output
from posewatch.core.pipeline import PipelineState
from posewatch.core.plane import PlaneMap
from posewatch.core.records import Frame, Input
from posewatch.runtime.writer_thread import Entry

#: What the caller sees of each input: the state after it and what the pipeline said.
OnInput = Callable[[Input, PipelineState, tuple[Output, ...]], None]


@dataclass(frozen=True, slots=True)
class WatchTotals:
    """What a watch came to: frames handled, time from first to last of them, what counted."""

    n_frames: int
    watched_ns: int
    n_counted: int
    counted_ns: int
    n_intervals: int


@dataclass(slots=True)
class WatchRun:
    """What to watch. now_ns: session time of the last input.

    chain, plane: those at hand. inputs: in the order of their times. keep: takes each entry for
    the log.
    """

    task: Task
    chain: MeasuringChain
    plane: PlaneMap | None
    inputs: Iterable[Input]
    keep: Callable[[Entry], None]
    on_input: OnInput
    stop: threading.Event

    _state: PipelineState = field(init=False)
    now_ns: int = field(default=0, init=False)
    _n_inputs: int = field(default=0, init=False)
    _n_frames: int = field(default=0, init=False)
    _first_ns: int = field(default=0, init=False)
    _last_ns: int = field(default=0, init=False)

    def __post_init__(self) -> None:
        self._state = pipeline.start(self.task, self.chain, self.plane)

    def follow(self) -> None:
        """Watch in the calling thread until the inputs end or stop is set.

        What the inputs, keep or on_input raise comes through; :meth:`end` may follow all the same.
        """
        for item in self.inputs:
            self.take(item)
            if self.stop.is_set():
                break

    def take(self, item: Input) -> None:
        """Take in one input, which comes after all others; raises as :meth:`follow`."""
        self._state, outputs = pipeline.step(self.task, self._state, item)
        self.keep(Entry(self._n_inputs, item, outputs))
        self._n_inputs += 1
        self.now_ns = item.t_ns
        if isinstance(item, Frame):
            if not self._n_frames:
                self._first_ns = item.t_ns
            self._n_frames += 1
            self._last_ns = item.t_ns
        self.on_input(item, self._state, outputs)

    def end(self) -> tuple[WatchTotals, tuple[Output, ...]]:
        """Return the totals, and the last outputs, which belong into the log too."""
        self._state, last = pipeline.finish(self._state)
        tally = self._state.judge.tally
        return WatchTotals(
            self._n_frames,
            self._last_ns - self._first_ns,
            tally.n_strokes,
            tally.total_ns,
            tally.n_intervals,
        ), last
