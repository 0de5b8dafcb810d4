"""An engine without a thread: jobs are under way until a test ends them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from posewatch.core.envelope import Target
from posewatch.runtime.engine import Engine, EngineState, Post
from posewatch.store.settings import Settings
from posewatch.studio import Studio
from posewatch.watched_source import Source


class IdleEngine(Engine):
    """Starts nothing. names: of the jobs that were begun."""

    def __init__(self) -> None:
        super().__init__()
        self.names: list[str] = []
        self.busy = False

    @property
    def is_busy(self) -> bool:
        return self.busy

    @property
    def state(self) -> EngineState:
        if not self.busy:
            return EngineState.STOPPED
        return EngineState.STOPPING if self.post.stop.is_set() else EngineState.RUNNING

    def start(self, name: str, job: Callable[[Post], Any]) -> Post:
        assert not self.busy
        self.names.append(name)
        self.busy, self.post = True, Post()
        return self.post

    def finish(self) -> None:
        """End the job that was asked to end."""
        assert self.post.stop.is_set()
        self.busy = False


def idle_studio(folder: Path, target: Target | None) -> tuple[Studio, IdleEngine]:
    """Return a studio whose jobs do nothing, with a source chosen."""
    engine = IdleEngine()
    studio = Studio(Settings(data_folder=folder), engine=engine)
    studio.choose(source=Source(Path("ride.landmarks.npz"), "full"), target=target)
    return studio, engine
