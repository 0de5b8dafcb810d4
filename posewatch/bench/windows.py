"""The live loop with its windows: how much it handles, how late it shows it, what painting costs.

The windows are real ones on Qt's offscreen platform, told by their own timer; the source is a clip
played as a camera.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from posewatch.bench.rides import PLAN
from posewatch.core.envelope import Target
from posewatch.demo import clips_folder
from posewatch.demo import source as clip_source
from posewatch.runtime.health import Health
from posewatch.store.settings import Settings
from posewatch.studio import Chosen, Studio
from posewatch.watched_source import LOOP

#: What a person's command does until its first window is there.
FIRST_WINDOW = """
import sys
from PySide6.QtWidgets import QApplication
from posewatch.store.settings import load_settings
from posewatch.studio import Studio
from posewatch.ui.application import opened
app = QApplication(sys.argv[:1])
windows = opened(Studio(load_settings()))
windows.start(app.quit)
app.processEvents()
print(windows.setup.isVisible(), flush=True)
windows.end()
"""


@dataclass(frozen=True, slots=True)
class Look:
    """How a live watch with windows stood at one moment. rss_bytes: of the process, 0 = not known.

    waiting: entries that wait for the log.
    """

    t_s: float
    health: Health
    rss_bytes: int


@dataclass(frozen=True, slots=True)
class LiveWindows:
    """A live watch with windows.

    lost: pictures overtaken. paint_ms: median of what a poll's painting takes, by window. looks:
    one each look_every_s, and the end.
    """

    n_handled: int
    lost: int
    paint_ms: Mapping[str, float]
    looks: tuple[Look, ...]

    @property
    def share(self) -> float:
        """Pictures handled of those that came."""
        return self.n_handled / max(1, self.n_handled + self.lost)


def watch_in_windows(
    settings: Settings,
    target: Target,
    clip: str,
    seconds: float,
    look_every_s: float,
    on_look: Callable[[Look], None] = lambda look: None,
) -> LiveWindows:
    """Watch a clip, played again and again as a camera, in operator's and rider's window.

    Raises:
        PosewatchError: the clip or the model cannot be used.
    """
    from posewatch.ui.unattended import use_no_display, watch_unattended

    use_no_display()
    recorded = clip_source(clip, False, settings.model)
    live = replace(recorded, path=Path(), live=f"{LOOP}{clips_folder() / f'{clip}.mp4'}")
    plan = replace(PLAN, goal_strokes=100_000)
    studio = Studio(settings, Chosen(live, target, plan, any_chain=True))
    looks: list[Look] = []

    def on_round(t_s: float) -> None:
        if t_s - (looks[-1].t_s if looks else 0.0) >= look_every_s:
            looks.append(Look(t_s, studio.post.health.read(), rss_bytes()))
            on_look(looks[-1])

    paint_ms = watch_unattended(studio, seconds, on_round)
    last = studio.post.health.read()
    looks.append(Look(seconds, last, rss_bytes()))
    return LiveWindows(last.n_handled, last.overtaken, paint_ms, tuple(looks))


def first_window_s() -> float:
    """Return how long a fresh process takes from its start to its first window."""
    begun_s = time.perf_counter()
    with subprocess.Popen(
        [sys.executable, "-c", FIRST_WINDOW],
        env=dict(os.environ, QT_QPA_PLATFORM="offscreen"),
        stdout=subprocess.PIPE,
        text=True,
    ) as process:
        assert process.stdout is not None
        said = process.stdout.readline()
        took_s = time.perf_counter() - begun_s
        process.wait()
    if said.strip() != "True":
        raise RuntimeError("no window came")
    return took_s


def rss_bytes() -> int:
    """Return the memory that this process holds, 0 where the system does not tell."""
    try:
        pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
    except (OSError, ValueError, IndexError):
        return 0
    return pages * os.sysconf("SC_PAGE_SIZE")
