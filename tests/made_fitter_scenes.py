"""What the fitter's window is told at a poll, as the windows' timer makes it of a studio."""

from __future__ import annotations

from posewatch.runtime import clock
from posewatch.studio import Studio
from posewatch.ui.scene import Scene, Switches
from posewatch.ui.theme import DARK, Theme


def scene(studio: Studio, theme: Theme = DARK) -> Scene:
    """Return the scene of a studio as it is now."""
    return Scene(
        clock.monotonic_ns(),
        studio.doing,
        studio.engine.state,
        "" if studio.error is None else str(studio.error),
        studio.paused,
        studio.post.shown,
        tuple(studio.post.take_said()),
        studio.post.progress,
        studio.post.health.read(),
        Switches(theme=theme),
        studio.chosen.target,
        studio.chosen.plan,
    )
