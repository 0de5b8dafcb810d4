"""What the options say of a source, and whether windows can be shown."""

from __future__ import annotations

import os
import sys

from posewatch.core.envelope import Target
from posewatch.pose.bundles import SHIPPED_MODELS
from posewatch.store.settings import Settings
from posewatch.watched_source import Source, find_camera, find_source

#: Qt's platforms that show nothing to anybody.
UNSEEN = ("offscreen", "minimal", "vnc")


def source_for(
    target: Target,
    word: str,
    settings: Settings,
    model: str | None,
    paced: bool = False,
    start_s: float = 0.0,
    end_s: float | None = None,
    camera: str | None = None,
    kit: str = "",
) -> Source:
    """Return a source that is to be held against a target, read as the target's was.

    Args:
        word: a file, a camera's number or name, or a stream's address.
        settings: model is the one to use where ``model`` was given or the target's is none of ours.
        model: as given on the command line, None = the target's.

    Raises:
        BadInput: there is no such camera profile.
    """
    chain = target.chain
    chosen = chain.model_name if model is None else settings.model
    path, live = find_source(word)
    return Source(
        path,
        chosen if chosen in SHIPPED_MODELS else settings.model,
        paced,
        start_s,
        end_s,
        None if camera is None else find_camera(camera, settings.data_folder),
        kit,
        chain.points == "dots",
        live,
        chain.pose_workers,
        (chain.width_px, chain.height_px, round(chain.rate_hz)),
    )


def can_show_windows() -> bool:
    """Tell whether there is a display that somebody may look at."""
    if os.environ.get("QT_QPA_PLATFORM", "") in UNSEEN:
        return False
    if sys.platform.startswith("linux"):
        return any(os.environ.get(name) for name in ("DISPLAY", "WAYLAND_DISPLAY"))
    return True
