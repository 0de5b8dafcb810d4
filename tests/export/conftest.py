"""A watch with everything in it that is given out, and visits whose trials were all like it."""

from __future__ import annotations

import shutil
import threading
from pathlib import Path

import pytest
from linkage_rider import TRUNK_DEG, Pose, ride
from made_rides import write_ride
from made_visits import VisitMaker

from posewatch.app import Watcher
from posewatch.core.envelope import Target
from posewatch.core.records import CommandKind
from posewatch.core.watch_plan import WatchPlan
from posewatch.export.recorded import Recorded, read_recorded
from posewatch.runtime.engine import Post
from posewatch.store.settings import Settings
from posewatch.watched_source import Source


def uneven(t_s: float, crank_deg: float) -> Pose:
    """In position but for a brief drift, two losses with a short run between, a hidden knee."""
    out = 12.0 <= t_s < 12.6 or 18.0 <= t_s < 21.0 or 26.0 <= t_s < 29.0
    hidden = ("knee",) if 38.0 <= t_s < 38.4 else ()
    return Pose(crank_deg, TRUNK_DEG + 8.0 * out, hidden=hidden)


@pytest.fixture(scope="session")
def uneven_watch(ridden_target: Target, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The log of a watch of 45 s with two marks in it."""
    folder = tmp_path_factory.mktemp("uneven")
    source = write_ride(folder / "uneven.landmarks.npz", ride(45.0, uneven))
    settings = Settings().model_copy(update={"data_folder": folder / "data"})
    watcher = Watcher(
        Source(source, "full"),
        ridden_target,
        WatchPlan(cadence_rpm=90.0),
        settings,
        folder / "watch",
    )
    post = Post(threading.Event())
    post.controls.say(CommandKind.MARK, "towel, wet; größer")
    post.controls.say(CommandKind.MARK)
    post.controls.say(CommandKind.WITHDRAW, "2")
    watcher.attend(post)
    return folder / "watch"


@pytest.fixture
def watch(uneven_watch: Path, tmp_path: Path) -> Path:
    """A copy of that log to do anything with."""
    return Path(shutil.copytree(uneven_watch, tmp_path / "watch"))


@pytest.fixture
def made(tmp_path: Path) -> VisitMaker:
    return VisitMaker(tmp_path)


@pytest.fixture
def visited(made: VisitMaker, uneven_watch: Path) -> Path:
    """A visit of two mountings; its first trial was ridden twice."""
    return made.visit("visit", uneven_watch)


@pytest.fixture
def recorded(visited: Path) -> Recorded:
    return read_recorded([visited])
