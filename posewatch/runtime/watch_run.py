"""One watch from the first frame to the last: feeds the pipeline and the log."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

from posewatch.core import pipeline
from posewatch.core.judge import Task
from posewatch.core.outputs import Output
from posewatch.core.pipeline import PipelineState
from posewatch.core.records import Frame
from posewatch.runtime.writer_thread import Entry

#: What the caller sees of each frame: the state after it and what the pipeline said.
OnFrame = Callable[[Frame, PipelineState, tuple[Output, ...]], None]


@dataclass(frozen=True, slots=True)
class WatchTotals:
    """What a watch came to: frames handled, time from first to last, and what counted."""

    n_frames: int
    watched_ns: int
    n_counted: int
    counted_ns: int
    n_intervals: int


@dataclass(slots=True)
class WatchRun:
    """What to watch. frames: in the order of their times. keep: takes each entry for the log."""

    task: Task
    width_px: int
    height_px: int
    frames: Iterable[Frame]
    keep: Callable[[Entry], None]
    on_frame: OnFrame
    stop: threading.Event

    _state: PipelineState = field(init=False)
    _n_frames: int = field(default=0, init=False)
    _first_ns: int = field(default=0, init=False)
    _last_ns: int = field(default=0, init=False)

    def __post_init__(self) -> None:
        self._state = pipeline.start(self.task, self.width_px, self.height_px)

    def follow(self) -> None:
        """Watch in the calling thread until the frames end or stop is set.

        What the frames, keep or on_frame raise comes through; :meth:`end` may follow all the same.
        """
        for seq, frame in enumerate(self.frames):
            self._state, outputs = pipeline.step(self.task, self._state, frame)
            self.keep(Entry(seq, frame, outputs))
            if seq == 0:
                self._first_ns = frame.t_ns
            self._n_frames, self._last_ns = seq + 1, frame.t_ns
            self.on_frame(frame, self._state, outputs)
            if self.stop.is_set():
                break

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
