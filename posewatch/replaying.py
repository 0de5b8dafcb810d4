"""A session's inputs fed to the pipeline again: the same valid intervals come out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from posewatch.core import pipeline
from posewatch.core.judge import Task
from posewatch.core.outputs import Output, ValidInterval
from posewatch.core.plane import plane_map
from posewatch.store.session_reader import SessionReader


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


def replay(folder: Path, on_input: Callable[[int], None]) -> ReplayResult:
    """Feed a session's inputs to the pipeline again.

    Raises:
        BadInput: the folder is no session, or is damaged.
    """
    with SessionReader(folder) as reader:
        header = reader.header
        task = Task(header.target, header.plan)
        plane = None if header.profile is None else plane_map(header.profile)
        state = pipeline.start(task, header.chain, plane)
        outputs: list[Output] = []
        n_inputs = 0
        for _, item in reader.inputs():
            state, said = pipeline.step(task, state, item)
            outputs += said
            n_inputs += 1
            on_input(n_inputs)
        state, said = pipeline.finish(state)
        outputs += said
        recorded = tuple(reader.intervals())
        return ReplayResult(n_inputs, tuple(outputs), recorded, reader.ending is not None)
