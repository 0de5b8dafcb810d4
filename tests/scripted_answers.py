"""Answers and a screen for visits that are conducted in tests."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from posewatch.app import Watcher, WatchResult
from posewatch.core.outputs import Output
from posewatch.core.pipeline import PipelineState
from posewatch.core.records import Input
from posewatch.store.settings import Settings
from posewatch.trials import acts
from posewatch.trials.conduct_state import Run
from posewatch.trials.kinds import CheckLine, Entry
from posewatch.trials.start_needs import Missing
from posewatch.visits.answering import Choice, Wish
from posewatch.visits.visit import TrialTask
from posewatch.watched_source import Source


class Scripted:
    """Answers at the keys: wishes in their order, then on and on; everything else is said once.

    asked: what was asked, in its order. whys: reasons for what is passed over, by need.
    """

    attended = True

    def __init__(self, *wishes: Wish, whys: dict[str, str] | None = None) -> None:
        self.asked: list[str] = []
        self.wishes = list(wishes)
        self.whys = whys or {}
        self.pauses: list[str] = []

    def operator(self) -> str:
        return "anna"

    def choose(self, what: str, choices: Sequence[Choice]) -> Wish:
        self.asked.append(what)
        wish = self.wishes.pop(0) if self.wishes else Wish(Choice.GO_ON)
        assert wish.choice in choices
        return wish

    def line(self, mounting: int, line: CheckLine) -> acts.LineDone | acts.LineSkipped:
        if line.entry is Entry.NUMBER:
            return acts.LineSkipped(0, line.key, "not measured")
        return acts.LineDone(0, line.key)

    def rate(self, run: Run) -> Iterable[acts.Rated]:
        self.asked.append(f"rate {run.mounting}.{run.trial}.{run.attempt}")
        return [acts.Rated(0, "front", "pain", 2.0), acts.Rated(0, "front", "comfort", None)]

    def guess(self, mounting: int) -> acts.Guessed | None:
        self.asked.append(f"guess {mounting}")
        return acts.Guessed(0, "A", 5) if mounting == 1 else None

    def why(self, missing: Missing) -> str:
        self.asked.append(f"why {missing.need}")
        return self.whys.get(missing.need, "")

    def broken_off(self) -> str:
        self.asked.append("broken off")
        return "the phone rang"

    def pause(self) -> str:
        return self.pauses.pop(0) if self.pauses else ""


class Said:
    """A screen that keeps what it was told; interrupt: called with every input of a trial."""

    def __init__(self, interrupt: Callable[[Watcher], None] = lambda _: None) -> None:
        self.lines: list[str] = []
        self.waits: list[float] = []
        self.interrupt = interrupt
        self._watcher: Watcher | None = None

    def say(self, text: str) -> None:
        self.lines.append(text)

    def left(self, text: str, left_s: float) -> None:
        self.waits.append(left_s)

    @contextmanager
    def riding(self, watcher: Watcher) -> Iterator[Said]:
        self._watcher = watcher
        yield self

    def opened(self, n_expected: int) -> None:
        assert n_expected > 0

    def seen(self, item: Input, state: PipelineState, said: tuple[Output, ...]) -> None:
        assert self._watcher is not None
        self.interrupt(self._watcher)

    def ended(self, result: WatchResult) -> None:
        self.lines.append(f"ridden, {result.totals.n_counted} strokes")


def watcher_of(recording: Path, data_folder: Path) -> Callable[[TrialTask], Watcher]:
    """Return how a trial is watched: on a recording, faster than life."""

    def watcher(task: TrialTask) -> Watcher:
        return Watcher(
            Source(recording, "full"),
            task.target,
            task.plan,
            Settings(data_folder=data_folder),
            task.session,
        )

    return watcher
