"""The composition root: wires concrete sources, models, logs and the core together.

Commands and windows call this module; nothing else does.
"""

from __future__ import annotations

import platform
import shutil
import sys
import threading
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime
from importlib.metadata import PackageNotFoundError, version
from itertools import count
from pathlib import Path

from posewatch import __version__
from posewatch.core import capture as core_capture
from posewatch.core import pipeline
from posewatch.core.capture import Subject
from posewatch.core.envelope import Target
from posewatch.core.judge import Task
from posewatch.core.measuring_chain import MeasuringChain
from posewatch.core.outputs import Output, ValidInterval
from posewatch.core.pipeline import PipelineState
from posewatch.core.plane import plane_map
from posewatch.core.records import NS_PER_S, Frame, Input, Side, SourceState
from posewatch.core.sources import StreamInfo
from posewatch.core.timebase import to_s
from posewatch.core.watch_plan import WatchPlan
from posewatch.errors import BadInput, ChainMismatch
from posewatch.opening import Source, open_frames
from posewatch.runtime.watch_run import OnInput, WatchRun, WatchTotals
from posewatch.runtime.writer_thread import LogWriter
from posewatch.store.session_header import HowEnded, SessionEnding, SessionHeader
from posewatch.store.session_reader import SessionReader
from posewatch.store.session_writer import SessionWriter
from posewatch.store.settings import Settings, render_settings

#: A side is believed to be the rider's when it has stood for so long.
SIDE_STANDS_NS = 3 * NS_PER_S


def capture_target(
    sources: Sequence[Source], subject: Subject, on_frame: Callable[[str, int, int], None]
) -> Target:
    """Return the target of clips or recordings of one chain, not yet saved.

    on_frame is called with a source's name and its numbers of frames done and expected (0 = not
    known).

    Raises:
        PosewatchError: a source cannot be used, or they hold no target together.
    """
    recordings, chains, plane = [], [], None
    for source in sources:
        frames: list[Frame] = []
        with open_frames(source) as opened:
            for item in opened.part:
                if isinstance(item, SourceState):
                    raise _moved(source, item)
                frames.append(item)
                on_frame(source.path.name, len(frames), opened.n_expected)
            chains.append(opened.chain)
            plane = opened.plane
        if not frames:
            raise BadInput(
                f"{source.path.name} is over before {source.start_s:g} s.", "Give an earlier start."
            )
        recordings.append(frames)
        differences = chains[0].differences(chains[-1])
        if differences:
            raise BadInput(
                f"{source.path.name} is of another measuring chain than {sources[0].path.name}: "
                f"{'; '.join(differences)}.",
                "Record all sits of a target with one chain.",
            )
    names = ", ".join(source.path.name for source in sources)
    return core_capture.capture(recordings, chains[0], plane, subject, names)


def _moved(source: Source, state: SourceState) -> BadInput:
    return BadInput(
        f"The view changed {to_s(state.t_ns):.0f} s into {source.path.name}, so no target can come "
        f"of it. {state.text}",
        "Fix the camera and record again, or give --end to use what came before.",
    )


@dataclass(frozen=True, slots=True)
class WatchResult:
    """What a watch came to.

    last: those of the outputs that came only at the end. lost: pictures not used, by cause.
    """

    totals: WatchTotals
    outputs: tuple[Output, ...]
    last: tuple[Output, ...]
    lost: Mapping[str, int]


@dataclass(slots=True)
class Watcher:
    """One watch of a source against a target.

    session: folder of the log, None = nothing is kept. any_chain: watch even if the target was
    captured with another chain. differences: how the chain differs from the target's, mostly empty.
    """

    source: Source
    target: Target
    plan: WatchPlan
    settings: Settings
    session: Path | None = None
    any_chain: bool = False
    stop: threading.Event = field(default_factory=threading.Event)
    differences: list[str] = field(default_factory=list, init=False)

    def run(self, on_input: OnInput, on_open: Callable[[int], None]) -> WatchResult:
        """Watch to the end of the source, or until ``stop`` is set.

        on_open is called once with the number of frames expected (0 = not known).

        Raises:
            ChainMismatch: the target does not fit; nothing is left behind.
            PosewatchError: the source or the log cannot be used, or failed; what was recorded is
                kept.
        """
        with open_frames(self.source) as opened:
            chain = opened.chain
            self._require_fit(self.target.chain.differences(chain))
            info = opened.frames.info
            on_open(opened.n_expected)
            writer = self._open_log(chain, info)
            outputs: list[Output] = []
            stood = _Side()

            def seen(item: Input, state: PipelineState, said: tuple[Output, ...]) -> None:
                outputs.extend(said)
                if state.last is not None and stood.is_settled(item.t_ns, state.last.side):
                    self._require_side(stood.side)
                on_input(item, state, said)

            run = WatchRun(
                Task(self.target, self.plan),
                chain,
                opened.plane,
                opened.part,
                writer.add if writer else lambda entry: None,
                seen,
                self.stop,
            )
            try:
                run.follow()
            except ChainMismatch:
                self._discard(writer)
                raise
            except BaseException as error:
                _keep_cut_off(writer, run, opened.lost(), error)
                raise
            totals, last = run.end()
            lost = opened.lost()
            if writer:
                how = HowEnded.STOPPED if self.stop.is_set() else HowEnded.SOURCE_ENDED
                writer.finish(last, _ending(how, totals, lost, self._mark()))
        return WatchResult(totals, (*outputs, *last), last, lost)

    def _require_fit(self, differences: Sequence[str]) -> None:
        if differences and not self.any_chain:
            raise ChainMismatch(
                f"The target does not fit this chain (target / here): {'; '.join(differences)}.",
                "Capture a target with this chain, or watch all the same with --any-chain.",
            )
        self.differences.extend(differences)

    def _require_side(self, side: Side | None) -> None:
        if side is not self.target.side:
            self._require_fit([f"near side: {self.target.side} / {side}"])

    def _mark(self) -> str:
        return f"other chain: {'; '.join(self.differences)}" if self.differences else ""

    def _open_log(self, chain: MeasuringChain, info: StreamInfo) -> LogWriter[SessionEnding] | None:
        if self.session is None:
            return None
        folder = self.session
        header = SessionHeader(
            self.target,
            self.plan,
            chain,
            None if self.source.camera is None else self.source.camera.profile,
            info,
            render_settings(self.settings),
            versions(),
            datetime.now(UTC).isoformat(timespec="seconds"),
        )
        return LogWriter(lambda: SessionWriter.create(folder, header))

    def _discard(self, writer: LogWriter[SessionEnding] | None) -> None:
        """Leave nothing of a watch that never rightly began."""
        if writer is not None and self.session is not None:
            writer.close()
            shutil.rmtree(self.session, ignore_errors=True)


@dataclass(slots=True)
class _Side:
    """The side that the camera sees, and since when; told once, when it has stood for a while.

    A rider who mounts may face anywhere for a moment, and a mistake in the middle of a ride must
    not cost what was recorded.
    """

    side: Side | None = None
    since_ns: int = 0
    told: bool = False

    def is_settled(self, t_ns: int, side: Side | None) -> bool:
        """Take in what one picture says; True exactly once."""
        if side is not self.side:
            self.side, self.since_ns = side, t_ns
        if self.told or self.side is None or t_ns - self.since_ns < SIDE_STANDS_NS:
            return False
        self.told = True
        return True


def _keep_cut_off(
    writer: LogWriter[SessionEnding] | None,
    run: WatchRun,
    lost: Mapping[str, int],
    error: BaseException,
) -> None:
    """Keep what was recorded until an error, and say in the ending which it was."""
    if writer is None:
        return
    how = HowEnded.FAILED if isinstance(error, Exception) else HowEnded.STOPPED
    totals, last = run.end()
    with suppress(Exception):  # if it is the log that failed, there is no ending
        message = str(error) if how is HowEnded.FAILED else ""
        writer.finish(last, _ending(how, totals, lost, message))


def _ending(
    how: HowEnded, totals: WatchTotals, lost: Mapping[str, int], message: str
) -> SessionEnding:
    return SessionEnding(
        how,
        totals.n_frames,
        totals.watched_ns,
        totals.n_counted,
        totals.counted_ns,
        totals.n_intervals,
        lost,
        message,
    )


def versions() -> dict[str, str]:
    """Return the versions that shape the numbers, without loading any library."""
    found = {"posewatch": __version__, "python": platform.python_version(), "os": sys.platform}
    for name in ("numpy", "mediapipe", "opencv-python"):
        try:
            found[name] = version(name)
        except PackageNotFoundError:
            found[name] = "not installed"
    return found


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


def new_session_folder(settings: Settings) -> Path:
    """Return a free folder for a session that was given no name: the moment in UTC."""
    stamp = datetime.now(UTC).strftime("%Y-%m-%d_%H-%M-%S")
    names = (stamp if n == 1 else f"{stamp}_{n}" for n in count(1))
    folders = (settings.data_folder / "sessions" / name for name in names)
    return next(folder for folder in folders if not folder.exists())
