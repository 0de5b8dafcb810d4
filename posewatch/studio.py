"""What the windows do: previews, watches and captures on the engine. No window in here.

One :class:`Studio` is a whole sitting at the program: what was chosen, the engine, the sensors, and
what it has come to. Commands without windows use ``app`` directly.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field, replace
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING

from posewatch import app, live_jobs
from posewatch.core.capture import Subject
from posewatch.core.envelope import Target
from posewatch.core.records import CommandKind
from posewatch.core.sensor_choice import SensorChoice
from posewatch.core.sensor_use import SensorUse
from posewatch.core.video_use import VideoUse
from posewatch.core.watch_plan import WatchPlan
from posewatch.opening_sensors import feed_of, open_sensors
from posewatch.runtime.engine import Engine, Post
from posewatch.runtime.watch_run import OnInput
from posewatch.sensors.effort_feed import EffortFeed
from posewatch.store.settings import Settings
from posewatch.store.target_shelf import save_target
from posewatch.watched_source import Source

if TYPE_CHECKING:
    from posewatch.camera.webcams import Webcam
    from posewatch.sensing import LiveSensors


class Doing(StrEnum):
    """What the engine does. NOTHING is the curtain: the camera is closed."""

    NOTHING = "camera closed"
    PREVIEW = "looking"
    WATCH = "watching"
    CAPTURE = "capturing"


@dataclass(frozen=True, slots=True)
class Chosen:
    """What was chosen at set-up; None = not yet.

    source: camera, stream, clip or recording. target: what is watched against. plan: of the trial.
    sensors: which are read. trainer: that is to hold the power, None = none is. consent: what the
    rider agreed to; gaps: what was not ready; as they are logged, empty = nothing to log. told:
    hears each watch besides. video: None = none is kept.
    """

    source: Source | None = None
    target: Target | None = None
    plan: WatchPlan = WatchPlan()
    consent: str = ""
    gaps: str = ""
    any_chain: bool = False
    sensors: SensorUse = SensorUse()
    trainer: SensorChoice | None = None
    told: OnInput | None = None
    video: VideoUse | None = None

    @property
    def agreements(self) -> str:
        """All that the rider agreed to, in one line."""
        video = "" if self.video is None else self.video.agreed
        return "; ".join(filter(None, (self.consent, video)))


def live_sensors(choices: Sequence[SensorChoice]) -> LiveSensors:
    """Return this computer's Bluetooth sensors, followed from now on."""
    from posewatch.sensing import LiveSensors

    return LiveSensors(choices)


@dataclass(slots=True)
class Studio:
    """A sitting at the program. Used by one thread; the engine has its own.

    session: the folder of the watch under way, or of the last one. named: folder for the next
    watch, None = one is made. done: folders and results of the watches that ended, in order. live:
    the Bluetooth sensors, None = none were opened; they stay connected from the first watch on, so
    that the next finds them awake and what is known of a meter's offset is kept.
    """

    settings: Settings
    chosen: Chosen = Chosen()
    engine: Engine = field(default_factory=Engine)
    session: Path | None = None
    named: Path | None = None
    done: list[tuple[Path, app.WatchResult]] = field(default_factory=list)
    live: LiveSensors | None = field(default=None, init=False)
    follow_live: Callable[[Sequence[SensorChoice]], LiveSensors] = live_sensors
    _doing: Doing = field(default=Doing.NOTHING, init=False)
    _paused: str = field(default="", init=False)
    _followed: tuple[SensorChoice, ...] = field(default=(), init=False)
    _to_log: list[str] = field(default_factory=list, init=False)

    @property
    def doing(self) -> Doing:
        """What the engine is at; NOTHING as soon as it has ended, in whatever way."""
        return self._doing if self.engine.is_busy else Doing.NOTHING

    @property
    def post(self) -> Post:
        """Where the job under way, or the last one, shows and says things."""
        return self.engine.post

    @property
    def error(self) -> BaseException | None:
        """What ended the last job, None = it ended well."""
        return self.engine.error

    @property
    def paused(self) -> str:
        """Why the watch is paused ("paused", "rest"), empty = it is not."""
        return self._paused if self.doing is Doing.WATCH else ""

    @property
    def kept_video(self) -> VideoUse | None:
        """The video that a watch of what is chosen keeps; None = none, or there are no pictures."""
        source = self.chosen.source
        return None if source is None or source.is_recording else self.chosen.video

    def cameras(self) -> Sequence[Webcam]:
        """Return the cameras of this machine; looking for them can take a second."""
        from posewatch.camera.webcams import list_webcams

        return list_webcams()

    def choose(self, **changes: object) -> None:
        """Choose anew; names as in :class:`Chosen`."""
        self.chosen = replace(self.chosen, **changes)  # type: ignore[arg-type]

    def look(self) -> None:
        """Open the camera and look, without a target and without a log.

        Raises:
            RuntimeError: a job is under way, or no source is chosen.
        """
        source = self._source()
        self._begin(Doing.PREVIEW, lambda post: live_jobs.look(source, post))

    def watch(self) -> None:
        """Begin a watch of the source against the target, logged in a new session folder.

        Raises:
            RuntimeError: a job is under way, or something is not chosen.
        """
        source, chosen = self._source(), self.chosen
        if chosen.target is None:
            raise RuntimeError("no target is chosen")
        folder = self.named or app.new_session_folder(self.settings)
        self.session, self.named = folder, None
        watcher = app.Watcher(
            source,
            chosen.target,
            chosen.plan,
            self.settings,
            folder,
            chosen.any_chain,
            chosen.sensors,
            lambda use: self._open_sensors(use, chosen.trainer),
            told=chosen.told,
            video=self.kept_video,
        )
        lines = [*filter(None, (chosen.consent, chosen.gaps)), *self._to_log]

        def job(post: Post) -> app.WatchResult:
            for line in lines:
                post.controls.say(CommandKind.MARK, line)
            result = watcher.attend(post)
            self.done.append((folder, result))
            return result

        self._paused = ""
        self._begin(Doing.WATCH, job)
        self._to_log.clear()

    def capture(self, subject: Subject) -> None:
        """Begin to capture a target; ``post.progress`` counts, :attr:`captured` has it at the end.

        Raises:
            RuntimeError: a job is under way, or no source is chosen.
        """
        source = self._source()
        self._begin(Doing.CAPTURE, lambda post: live_jobs.capture_live(source, subject, post))

    @property
    def captured(self) -> Target | None:
        """The target that the last job captured, not yet kept; None = it captured none."""
        found = self.engine.result
        return found if isinstance(found, Target) and not self.engine.is_busy else None

    def keep(self, target: Target) -> Target:
        """Save a target as a new version and choose it.

        Raises:
            BadInput: as ``store.target_shelf.save_target``.
        """
        kept, _ = save_target(target, self.settings.data_folder)
        self.choose(target=kept)
        return kept

    def say(self, kind: CommandKind, text: str = "") -> None:
        """Give the watch under way a command; without one nothing happens."""
        if self.doing is not Doing.WATCH:
            return
        if kind is CommandKind.PAUSE:
            self._paused = text or "paused"
        elif kind is CommandKind.RESUME:
            self._paused = ""
        self.post.controls.say(kind, text)

    def log(self, text: str) -> None:
        """Log a line: as a mark of the watch under way, else of the next one."""
        if self.doing is Doing.WATCH:
            self.post.controls.say(CommandKind.MARK, text)
        else:
            self._to_log.append(text)

    def end(self) -> None:
        """Ask the job under way to end; the camera closes with it. Returns at once."""
        self.engine.stop()

    def close(self, timeout_s: float = 2.0) -> bool:
        """End everything and wait for it; False = it did not end in time.

        A trainer that is held is let go at once.
        """
        self.engine.stop()
        # Both may take their two seconds, at the same time.
        closing = threading.Thread(target=self._let_go_of_sensors, name="sensors closing")
        closing.start()
        ended = self.engine.wait(timeout_s)
        closing.join()
        self._let_go_of_sensors()  # those that the watch had only begun to open
        return ended

    @contextmanager
    def _open_sensors(
        self, use: SensorUse, trainer: SensorChoice | None
    ) -> Iterator[EffortFeed | None]:
        """Give a watch its sensors; live ones stay open at its end, but hold no power."""
        if use.recording is not None or not use.is_any:
            with open_sensors(use) as feed:
                yield feed
            return
        live = self._follow(use.choices)
        try:
            yield feed_of(live, use)
        finally:
            if trainer is not None:
                with suppress(RuntimeError):  # closed already, and so let go
                    live.release(trainer)

    def _follow(self, choices: tuple[SensorChoice, ...]) -> LiveSensors:
        live = self.live
        if live is None or self._followed != choices:
            self._let_go_of_sensors()
            live = self.live = self.follow_live(choices)
            self._followed = choices
        return live

    def _let_go_of_sensors(self) -> None:
        """Close the live sensors; it may take two seconds."""
        live, self.live = self.live, None
        if live is not None:
            live.close()

    def _source(self) -> Source:
        if self.chosen.source is None:
            raise RuntimeError("no source is chosen")
        return self.chosen.source

    def _begin(self, doing: Doing, job: Callable[[Post], object]) -> None:
        self.engine.start(doing, job)
        self._doing = doing
