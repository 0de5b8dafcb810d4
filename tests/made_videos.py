"""Watches of a small clip, with a video of them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from made_clips import write_clip

from posewatch.app import Watcher
from posewatch.core.envelope import Target
from posewatch.core.video_use import VideoUse
from posewatch.core.watch_plan import WatchPlan
from posewatch.store.settings import load_settings
from posewatch.watched_source import Source

N_PICTURES = 90
USE = VideoUse("video v1 agreed to by rider 2026-01-02T03:04:05+00:00, faces blurred", True)


def short_clip(path: Path) -> Path:
    """Three seconds of one picture."""
    times_ms = [round(n * 100 / 3) for n in range(N_PICTURES)]
    options = {"bf": "0", "preset": "ultrafast"}
    return write_clip(path, times_ms, size=(640, 480), options=options, still=True)


def watcher(
    clip: Path, target: Target, session: Path, video: VideoUse | None = USE, paced: bool = False
) -> Watcher:
    """Watch a clip; the pose model is whatever the test puts in its place."""
    source = replace(Source(clip, "full"), paced=paced)
    return Watcher(
        source, target, WatchPlan(), load_settings(), session, any_chain=True, video=video
    )
