"""Scenes for set-up, without a camera: an engine that only says what it would do."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from linkage_rider import CHAIN

from posewatch.core.belief import BodySample, nothing
from posewatch.core.crank import UNKNOWN
from posewatch.core.doubts import Doubt
from posewatch.core.measuring_chain import MeasuringChain
from posewatch.core.records import (
    NS_PER_S,
    PICTURE,
    FloatArray,
    Side,
    SourceCondition,
    SourceState,
)
from posewatch.core.sources import Picture, TimedPicture
from posewatch.core.tracking import Tracked
from posewatch.core.watch_plan import WatchPlan
from posewatch.runtime.engine import Engine, EngineState, Post, Said, Shown
from posewatch.runtime.health import Health, HealthMeter
from posewatch.store.settings import Settings
from posewatch.studio import Studio
from posewatch.ui.scene import Scene, Switches

STEP_NS = NS_PER_S // 30
NO_CROSSES: FloatArray = np.empty((0, 2))


class StillEngine(Engine):
    """An engine without a thread: jobs begin and end as the test says.

    started: the names of all jobs. ends_slowly: a stopped job goes on until ``end``.
    """

    def __init__(self) -> None:
        super().__init__()
        self.started: list[str] = []
        self.ends_slowly = False
        self._busy = False
        self._error: BaseException | None = None

    @property
    def state(self) -> EngineState:
        if not self._busy:
            return EngineState.STOPPED if self._error is None else EngineState.FAULTED
        if self.post.stop.is_set():
            return EngineState.STOPPING
        return EngineState.RUNNING if self.post.ready.is_set() else EngineState.STARTING

    @property
    def error(self) -> BaseException | None:
        return self._error

    @property
    def is_busy(self) -> bool:
        return self._busy

    def start(self, name: str, job: Callable[[Post], Any]) -> Post:
        assert not self._busy
        self.started.append(name)
        self.post, self._busy, self._error = Post(), True, None
        return self.post

    def stop(self) -> None:
        self.post.stop.set()
        if not self.ends_slowly:
            self._busy = False

    def opened(self, chain: MeasuringChain = CHAIN) -> None:
        """The job under way has opened its source."""
        self.post.chain = chain
        self.post.ready.set()

    def end(self, error: BaseException | None = None) -> None:
        """The job under way ends by itself."""
        self._busy, self._error = False, error


def still_studio(data_folder: Path) -> tuple[Studio, StillEngine]:
    """Return a studio with a still engine."""
    engine = StillEngine()
    return Studio(Settings(data_folder=data_folder), engine=engine), engine


def grey(brightness: float, width_px: int = 64, height_px: int = 48) -> Picture:
    """Return a picture that is grey all over."""
    return np.full((height_px, width_px, 3), round(255 * brightness), np.uint8)


def body(t_ns: int, doubt: Doubt = Doubt.NONE, joint: int = 4) -> BodySample:
    """Return a body of which all is believed but perhaps one joint (by row, 4 = knee)."""
    sample = nothing(t_ns, Doubt.NONE)
    if doubt is Doubt.NOBODY:
        return nothing(t_ns)
    doubts = sample.doubts.copy()
    doubts[joint] = doubt
    return replace(sample, doubts=doubts, seen=doubt is Doubt.NONE)


def moment(
    t_ns: int,
    rgb: Picture | None,
    doubt: Doubt = Doubt.NONE,
    side: Side | None = Side.RIGHT,
    crosses_px: FloatArray = NO_CROSSES,
) -> Shown:
    """Return one moment of a preview; its picture is of that moment."""
    picture = None if rgb is None else TimedPicture(t_ns, rgb)
    tracked = Tracked(t_ns, side, body(t_ns, doubt), UNKNOWN)
    return Shown(t_ns, picture, 0, crosses_px, tracked, None)


def darkness(t_ns: int, condition: SourceCondition, text: str) -> Said:
    """Return what a source says of its pictures."""
    return Said(SourceState(t_ns, PICTURE, condition, text), ())


def scene_of(
    studio: Studio,
    now_ns: int,
    said: tuple[Said, ...] = (),
    rate_hz: float = 30.0,
    disk_free_bytes: int = 100_000_000_000,
    switches: Switches | None = None,
    camera: str = "",
) -> Scene:
    """Return the scene of a studio at a moment of the monotonic clock."""
    health = replace(HealthMeter().read(), rate_hz=rate_hz, disk_free_bytes=disk_free_bytes)
    assert isinstance(health, Health)
    return Scene(
        now_ns,
        studio.doing,
        studio.engine.state,
        "" if studio.error is None else str(studio.error),
        studio.paused,
        studio.post.shown,
        said,
        (0, 0),
        health,
        switches or Switches(),
        studio.chosen.target,
        WatchPlan(),
        camera,
    )


def run_scenes(
    show: Callable[[Scene], object],
    studio: Studio,
    from_ns: int,
    seconds: float,
    rgb: Picture | None,
    **changes: Any,
) -> int:
    """Show scenes of a camera that gives a picture a poll; returns the time after them.

    changes: of ``moment`` (doubt, side, crosses_px), the rest of ``scene_of``.
    """
    of_moment = {k: changes.pop(k) for k in ("doubt", "side", "crosses_px") if k in changes}
    now_ns = from_ns
    for _ in range(round(seconds * 30)):
        studio.post.shown = moment(now_ns, rgb, **of_moment)
        show(scene_of(studio, now_ns, **changes))
        now_ns += STEP_NS
    return now_ns
