"""What the windows do: previews, watches and captures on the engine. No window in here.

One :class:`Studio` is a whole sitting at the program: what was chosen, the engine, and what it has
come to. Commands without windows use ``app`` directly.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING

from posewatch import app, live_jobs
from posewatch.core.capture import Subject
from posewatch.core.envelope import Target
from posewatch.core.records import CommandKind
from posewatch.core.sensor_use import SensorUse
from posewatch.core.watch_plan import WatchPlan
from posewatch.runtime.engine import Engine, Post
from posewatch.store.settings import Settings
from posewatch.store.target_shelf import save_target
from posewatch.watched_source import Source

if TYPE_CHECKING:
    from posewatch.camera.webcams import Webcam


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
    sensors: which are read. consent: what the rider agreed to; gaps: what was not ready; as they
    are logged, empty = nothing to log.
    """

    source: Source | None = None
    target: Target | None = None
    plan: WatchPlan = WatchPlan()
    consent: str = ""
    gaps: str = ""
    any_chain: bool = False
    sensors: SensorUse = SensorUse()


@dataclass(slots=True)
class Studio:
    """A sitting at the program. Used by one thread; the engine has its own.

    session: the folder of the watch under way, or of the last one. named: folder for the next
    watch, None = one is made. done: folders and results of the watches that ended, in order.
    """

    settings: Settings
    chosen: Chosen = Chosen()
    engine: Engine = field(default_factory=Engine)
    session: Path | None = None
    named: Path | None = None
    done: list[tuple[Path, app.WatchResult]] = field(default_factory=list)
    _doing: Doing = field(default=Doing.NOTHING, init=False)
    _paused: str = field(default="", init=False)

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
        )

        def job(post: Post) -> app.WatchResult:
            for line in filter(None, (chosen.consent, chosen.gaps)):
                post.controls.say(CommandKind.MARK, line)
            result = watcher.attend(post)
            self.done.append((folder, result))
            return result

        self._paused = ""
        self._begin(Doing.WATCH, job)

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

    def end(self) -> None:
        """Ask the job under way to end; the camera closes with it. Returns at once."""
        self.engine.stop()

    def close(self, timeout_s: float = 2.0) -> bool:
        """End everything and wait for it; False = it did not end in time."""
        self.engine.stop()
        return self.engine.wait(timeout_s)

    def _source(self) -> Source:
        if self.chosen.source is None:
            raise RuntimeError("no source is chosen")
        return self.chosen.source

    def _begin(self, doing: Doing, job: Callable[[Post], object]) -> None:
        self.engine.start(doing, job)
        self._doing = doing
