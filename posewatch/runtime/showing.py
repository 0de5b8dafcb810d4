"""What a job shows: each input's state becomes a moment for the screens."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from posewatch.core.judge import Task
from posewatch.core.landmarks import LANDMARKS
from posewatch.core.outputs import Output
from posewatch.core.pipeline import PipelineState
from posewatch.core.records import FloatArray, Frame, Input
from posewatch.core.standing import standing
from posewatch.core.tracking import Tracked
from posewatch.runtime.engine import Post, Said, Shown
from posewatch.runtime.overseeing import RecentPictures


@dataclass(slots=True)
class Showing:
    """Puts what a watch does on a post. task: what is held, None = nothing (a preview)."""

    post: Post
    pictures: RecentPictures
    task: Task | None = None
    _crosses_px: FloatArray = field(default_factory=lambda: np.empty((0, 2)), init=False)

    def seen(self, item: Input, state: PipelineState, outputs: tuple[Output, ...]) -> None:
        """Take in one input of a watch, the state after it, and what the pipeline said."""
        if outputs or not isinstance(item, Frame):
            self.post.said.append(Said(item, outputs))
        self.show(item, state.last, state)

    def show(self, item: Input, tracked: Tracked | None, state: PipelineState | None) -> None:
        """Make a moment of one input."""
        picture, grabbed_ns = None, 0
        if isinstance(item, Frame):
            self.post.health.handled()
            picture, grabbed_ns = self.pictures.at(item.t_ns)
            self._crosses_px = crosses(item, tracked)
        elif self.post.shown is not None:
            picture, grabbed_ns = self.post.shown.picture, self.post.shown.grabbed_ns
        now = None if state is None or self.task is None else standing(self.task, state, item.t_ns)
        self.post.shown = Shown(item.t_ns, picture, grabbed_ns, self._crosses_px, tracked, now)


def crosses(frame: Frame, tracked: Tracked | None) -> FloatArray:
    """Return the near side's believed joints, (k, 2) image px; none where the side is not known."""
    if tracked is None or tracked.side is None:
        return np.empty((0, 2))
    believed = tracked.body.doubts == 0
    return np.asarray(frame.points_px[LANDMARKS[tracked.side]][believed], np.float64)
