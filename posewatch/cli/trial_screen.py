"""How a visit goes, on the terminal: lines, count-downs, and the trial that is ridden."""

from __future__ import annotations

import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager

from rich.progress import Progress, TaskID
from rich.status import Status

from posewatch.app import Watcher, WatchResult
from posewatch.cli.screen import OTHER_CHAIN, closing_line, console, progress_bar, say, say_output
from posewatch.cli.typed_lines import forget_typed
from posewatch.core.outputs import CueChanged, Output
from posewatch.core.pipeline import PipelineState
from posewatch.core.records import Frame, Input, SourceState
from posewatch.core.timebase import clock_text
from posewatch.video_checking import video_words

INDENT = "  "
#: Where there is no terminal, a count-down is a line now and then.
SAID_EVERY_S = 60.0


class TerminalScreen:
    """An ``answering.Screen``."""

    def __init__(self) -> None:
        self._status: Status | None = None
        self._said_s = 0.0
        self._told_keys = False

    def say(self, text: str) -> None:
        """Print a line."""
        say(text)

    def left(self, text: str, left_s: float) -> None:
        """Show what is waited for; it disappears when the wait is over."""
        if left_s <= 0:
            if self._status is not None:
                self._status.stop()
                forget_typed()
            self._status, self._said_s = None, 0.0
            return
        if not console.is_terminal:
            if not self._said_s or self._said_s - left_s >= SAID_EVERY_S:
                say(text)
                self._said_s = left_s
            return
        shown = f"{text}  (Ctrl+C: no longer)"
        if self._status is None:
            self._status = console.status(shown)
            self._status.start()
        self._status.update(shown)

    @contextmanager
    def riding(self, watcher: Watcher) -> Iterator[RidingLines]:
        """Show a trial; meanwhile Ctrl+C, or an end asked for from outside, stops the watch."""
        if sys.stdin.isatty() and not self._told_keys:
            say("p and Enter pauses, with a reason behind the p; Ctrl+C breaks the trial off")
            self._told_keys = True
        wanted = (signal.SIGINT, signal.SIGTERM)
        before = {one: signal.signal(one, lambda *_: watcher.stop.set()) for one in wanted}
        try:
            with progress_bar() as progress:
                yield RidingLines(watcher, progress, progress.add_task("opening", total=None))
        finally:
            for one, handler in before.items():
                signal.signal(one, handler)
            forget_typed()


class RidingLines:
    """An ``answering.Riding``: what is said, one line each, and a progress bar."""

    def __init__(self, watcher: Watcher, progress: Progress, task: TaskID) -> None:
        self._watcher, self._progress, self._task = watcher, progress, task

    def opened(self, n_expected: int) -> None:
        """Tell how many pictures are expected, 0 = not known."""
        self._progress.update(self._task, total=n_expected or None)

    def seen(self, item: Input, state: PipelineState, said: tuple[Output, ...]) -> None:
        """Tell what came in and what was said of it; cues are the rider's."""
        if isinstance(item, SourceState):
            say(f"{INDENT}{clock_text(item.t_ns)}  {item.text or item.condition}")
        self._say(said)
        self._progress.update(
            self._task,
            advance=isinstance(item, Frame),
            description=f"{state.judge.hold.phase}, {state.judge.tally.n_strokes} of "
            f"{self._watcher.plan.goal_strokes} strokes",
        )

    def ended(self, result: WatchResult) -> None:
        """Tell what the trial came to."""
        self._say(result.last)
        for difference in self._watcher.differences:
            say(f"{INDENT}other chain: {difference} (target / here)")
        for cause, n in result.lost.items():
            say(f"{INDENT}pictures not used, {cause}: {n}")
        one = result.totals
        if self._watcher.video is not None and self._watcher.session is not None:
            say(INDENT + video_words(self._watcher.session, self._watcher.video, one.n_frames))
        line = closing_line(one.n_counted, one.counted_ns, one.watched_ns, one.n_intervals)
        say(f"{INDENT}{OTHER_CHAIN * bool(self._watcher.differences)}{line}")

    def _say(self, said: tuple[Output, ...]) -> None:
        for output in said:
            if not isinstance(output, CueChanged):
                say_output(output, INDENT + OTHER_CHAIN * bool(self._watcher.differences))
