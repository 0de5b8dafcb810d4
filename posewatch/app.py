"""The composition root: wires concrete sources, models, logs and the core together into a watch.

Commands and windows call this module; nothing else does.
"""

from __future__ import annotations

import platform
import shutil
import sys
import threading
from collections.abc import Callable, Mapping, Sequence
from contextlib import AbstractContextManager, suppress
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from importlib.metadata import PackageNotFoundError, version
from itertools import count
from pathlib import Path

from posewatch import __version__
from posewatch.awake import kept_awake
from posewatch.core import side_seen
from posewatch.core.envelope import Target
from posewatch.core.judge import Task
from posewatch.core.measuring_chain import MeasuringChain
from posewatch.core.outputs import Output
from posewatch.core.pipeline import PipelineState
from posewatch.core.records import CommandKind, Input, Side
from posewatch.core.sensor_use import SensorUse
from posewatch.core.side_seen import SideSeen
from posewatch.core.video_use import VideoUse
from posewatch.core.watch_plan import WatchPlan
from posewatch.errors import ChainMismatch
from posewatch.opening import OpenFrames, open_frames
from posewatch.opening_sensors import open_sensors
from posewatch.runtime.attended import POLL_S, attended
from posewatch.runtime.controls import Controls
from posewatch.runtime.disk_watch import DiskWatch, require_room
from posewatch.runtime.engine import Post
from posewatch.runtime.overseeing import Oversight, RecentPictures
from posewatch.runtime.showing import Showing
from posewatch.runtime.watch_run import OnInput, WatchRun, WatchTotals
from posewatch.runtime.writer_thread import LogWriter
from posewatch.sensors.effort_feed import EffortFeed
from posewatch.store.session_header import HowEnded, SessionEnding, SessionHeader
from posewatch.store.session_writer import SessionWriter
from posewatch.store.settings import Settings, render_settings
from posewatch.video_keeping import require_video, video_thread, while_watching
from posewatch.watched_source import Source


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
    captured with another chain. sensors: which are read; open_sensors: opens them for the watch.
    controls: where an operator's commands come from in :meth:`run`. told: hears all of it besides,
    and never fails. video: None = none is kept. differences: how the chain differs from the
    target's, mostly empty.
    """

    source: Source
    target: Target
    plan: WatchPlan
    settings: Settings
    session: Path | None = None
    any_chain: bool = False
    sensors: SensorUse = SensorUse()
    open_sensors: Callable[[SensorUse], AbstractContextManager[EffortFeed | None]] = open_sensors
    stop: threading.Event = field(default_factory=threading.Event)
    controls: Controls = field(default_factory=Controls)
    told: OnInput | None = None
    video: VideoUse | None = None
    differences: list[str] = field(default_factory=list, init=False)

    def run(self, on_input: OnInput, on_open: Callable[[int], None]) -> WatchResult:
        """Watch to the end of the source, or until ``stop`` is set.

        on_open is called once with the number of frames expected (0 = not known).

        Raises:
            ChainMismatch: the target does not fit; nothing is left behind.
            PosewatchError: the source or the log cannot be used, or failed; what was recorded is
                kept.
        """
        post = Post(self.stop, self.controls)
        oversight = Oversight(self.stop, RecentPictures(), post.health, POLL_S)
        outputs: list[Output] = []

        def heard(item: Input, state: PipelineState, said: tuple[Output, ...]) -> None:
            outputs.extend(said)
            on_input(item, state, said)

        looked_at = self.source.live or self.video is not None
        result = self._watch(post, heard, on_open, oversight if looked_at else None)
        return replace(result, outputs=(*outputs, *result.last))

    def attend(self, post: Post) -> WatchResult:
        """Watch as :meth:`run` does, stopped, commanded and looked at through a post.

        A sitting may last for hours: what is said goes to the post and the log, and is not kept.
        """
        self.stop = post.stop
        pictures = RecentPictures()
        showing = Showing(post, pictures, Task(self.target, self.plan))
        oversight = Oversight(post.stop, pictures, post.health, POLL_S)
        return self._watch(post, showing.seen, lambda _: post.ready.set(), oversight)

    def _watch(
        self,
        post: Post,
        on_input: OnInput,
        on_open: Callable[[int], None],
        oversight: Oversight | None,
    ) -> WatchResult:
        if self.session is not None:
            require_room(self.session)
            if self.video is not None:
                require_video(self.source, self.session)
                post.controls.say(CommandKind.MARK, self.video.agreed)
        with (
            kept_awake(),
            self.open_sensors(self.sensors) as sensors,
            open_frames(self.source, oversight) as opened,
        ):
            chain = opened.chain
            self._require_fit(self.target.chain.differences(chain))
            on_open(opened.n_expected)
            writer = self._open_log(chain, opened)
            disk = None if self.session is None else DiskWatch(self.session, post.health)
            video = video_thread(self.video, self.session, opened.info, oversight)
            stood = SideSeen()

            def seen(item: Input, state: PipelineState, said: tuple[Output, ...]) -> None:
                nonlocal stood
                if state.last is not None:
                    stood, is_settled = side_seen.step(stood, item.t_ns, state.last.side)
                    if is_settled:
                        self._require_side(stood.side)
                if video is not None:
                    video.seen(item)
                post.health.note_log(writer, opened.lost)
                if self.told is not None:
                    self.told(item, state, said)
                on_input(item, state, said)

            run = WatchRun(
                Task(self.target, self.plan),
                chain,
                opened.plane,
                attended(
                    opened.part,
                    post.controls,
                    self.stop,
                    opened.live,
                    sensors,
                    tuple(one for one in (video, disk) if one is not None),
                ),
                writer.add if writer else lambda entry: None,
                seen,
                self.stop,
            )
            try:
                with while_watching(video):
                    run.follow()
                # What went wrong with the last pictures shows only once they are written.
                for told in () if video is None else video.told(run.now_ns):
                    run.take(told)
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
        return WatchResult(totals, last, last, lost)

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

    def _open_log(
        self, chain: MeasuringChain, opened: OpenFrames
    ) -> LogWriter[SessionEnding] | None:
        if self.session is None:
            return None
        folder = self.session
        header = SessionHeader(
            self.target,
            self.plan,
            chain,
            None if self.source.camera is None else self.source.camera.profile,
            opened.info,
            render_settings(self.settings),
            versions(),
            datetime.now(UTC).isoformat(timespec="seconds"),
            self.sensors,
            keep_until(self.settings),
            self.video,
        )
        now_ns = None if opened.live is None else opened.live.now_ns
        return LogWriter(lambda: SessionWriter.create(folder, header), now_ns)

    def _discard(self, writer: LogWriter[SessionEnding] | None) -> None:
        """Leave nothing of a watch that never rightly began."""
        if writer is not None and self.session is not None:
            writer.close()
            shutil.rmtree(self.session, ignore_errors=True)


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


def keep_until(settings: Settings) -> str:
    """Return the date until which what is recorded today is kept; empty = nothing was said."""
    if not settings.keep_days:
        return ""
    return (datetime.now().astimezone().date() + timedelta(settings.keep_days)).isoformat()


def new_session_folder(settings: Settings) -> Path:
    """Return a free folder for a session that was given no name: the moment in UTC."""
    stamp = datetime.now(UTC).strftime("%Y-%m-%d_%H-%M-%S")
    names = (stamp if n == 1 else f"{stamp}_{n}" for n in count(1))
    folders = (settings.data_folder / "sessions" / name for name in names)
    return next(folder for folder in folders if not folder.exists())
