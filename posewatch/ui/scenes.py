"""Makes the scene that all windows are told at a poll. Without Qt."""

from __future__ import annotations

import shutil
from pathlib import Path

from posewatch.core.records import (
    CAMERA,
    NS_PER_S,
    PICTURE,
    VIEW,
    SourceCondition,
    SourceState,
)
from posewatch.runtime.engine import Post
from posewatch.runtime.health import Health
from posewatch.studio import Studio
from posewatch.ui.scene import Scene, Switches

#: Figures for people's eyes are made anew this often; the disk is asked this often.
HEALTH_NS = NS_PER_S // 2
DISK_NS = 5 * NS_PER_S


class SceneMaker:
    """Makes one scene after the other; what was said is told in exactly one of them."""

    def __init__(self, studio: Studio) -> None:
        self._studio = studio
        self._post: Post | None = None
        self._wrong: dict[str, str] = {}
        self._health: tuple[int, Health] | None = None
        self._disk_ns: int | None = None

    def scene(self, switches: Switches, now_ns: int) -> Scene:
        """Return what there is to see now. now_ns: monotonic clock."""
        studio, post = self._studio, self._studio.post
        if post is not self._post:
            self._post, self._health, self._disk_ns = post, None, None
            self._wrong.clear()
        said = tuple(post.take_said())
        for one in said:
            if isinstance(one.item, SourceState) and one.item.source in (CAMERA, PICTURE, VIEW):
                self._follow(one.item)
        return Scene(
            now_ns,
            studio.doing,
            studio.engine.state,
            "" if studio.error is None else str(studio.error),
            studio.paused,
            post.shown,
            said,
            post.progress,
            self._read_health(post, now_ns),
            switches,
            studio.chosen.target,
            studio.chosen.plan,
            next(iter(self._wrong.values()), ""),
        )

    def _follow(self, state: SourceState) -> None:
        if state.condition in (SourceCondition.RUNNING, SourceCondition.ENDED):
            self._wrong.pop(state.source, None)
        else:
            self._wrong[state.source] = state.text or str(state.condition)

    def _read_health(self, post: Post, now_ns: int) -> Health:
        if self._disk_ns is None or now_ns - self._disk_ns >= DISK_NS:
            self._disk_ns = now_ns
            post.health.disk_free_bytes = free_bytes(self._studio.settings.data_folder)
        if self._health is None or now_ns - self._health[0] >= HEALTH_NS:
            self._health = (now_ns, post.health.read())
        return self._health[1]


def free_bytes(folder: Path) -> int:
    """Return how much is free where a folder is or will be, -1 = not known."""
    there = next((one for one in (folder, *folder.parents) if one.is_dir()), None)
    try:
        return -1 if there is None else shutil.disk_usage(there).free
    except OSError:
        return -1
