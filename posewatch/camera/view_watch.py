"""Watches during a ride that the camera's view stands as at set-up."""

from __future__ import annotations

from collections import deque

import numpy as np

from posewatch.camera.background import look, make_background
from posewatch.camera.opencv import cv2
from posewatch.core import view_shift
from posewatch.core.records import NS_PER_S, VIEW, FloatArray, SourceCondition, SourceState
from posewatch.core.sources import Picture
from posewatch.core.view_motion import Background
from posewatch.core.view_shift import ViewState
from posewatch.errors import BadInput

LOOK_EVERY_NS = NS_PER_S // 2
#: The rider may hide whatever he covered so long before; a leg takes no longer for its turn.
RIDER_OVER_NS = 2 * NS_PER_S
#: Landmarks are joints: the body reaches this far beyond them, as a share of the rider's extent.
MARGIN = 0.12
#: Without a background of its set-up a watch makes its own, from pictures over so long.
GATHER_NS = NS_PER_S
GATHER_EVERY_NS = NS_PER_S // 5
_RING = np.array([(np.cos(a), np.sin(a)) for a in np.arange(8) * np.pi / 4])


class ViewWatch:
    """Looks for the background twice a second of picture time, and tells when the view changes.

    Attributes:
        background: what it looks for; None until it has one.
        state: what it found so far; ``view_shift.describe`` says it in words.

    Args:
        background: of the set-up; None = the watch makes its own from its first second, and tries
            again while too little of the background can be seen.
    """

    def __init__(self, background: Background | None = None) -> None:
        self.background = background
        self.state = ViewState()
        self._rider: deque[tuple[int, FloatArray]] = deque()
        self._gathered: list[Picture] = []
        self._gather_from_ns: int | None = None
        self._due_ns: int | None = None

    def look_at(
        self, t_ns: int, picture: Picture, landmarks_px: FloatArray
    ) -> tuple[SourceState, ...]:
        """Take in one picture; times must rise.

        Args:
            t_ns: the picture's time.
            picture: (height, width, 3) uint8, RGB.
            landmarks_px: (33, 2) float64, image px; NaN = nobody found.

        Returns:
            That the view has moved, or is again as at set-up, at the moment that becomes known;
            nothing in between.

        Raises:
            BadInput: the pictures are not of the background's size.
        """
        self._follow_rider(t_ns, landmarks_px)
        if self.background is None:
            self._gather(t_ns, picture)
            return ()
        if self._due_ns is not None and t_ns < self._due_ns:
            return ()
        self._due_ns = t_ns + LOOK_EVERY_NS
        self._require_size(self.background, picture)
        findings = look(self.background, picture, self._rider_outline_px())
        before, self.state = self.state, view_shift.step(self.state, findings, t_ns)
        if self.state.departed == before.departed:
            return ()
        moved = SourceCondition.VIEW_MOVED if self.state.departed else SourceCondition.RUNNING
        return (SourceState(t_ns, VIEW, moved, view_shift.describe(self.state)),)

    def _follow_rider(self, t_ns: int, landmarks_px: FloatArray) -> None:
        """Keep each picture's outline of landmarks for a while."""
        seen = landmarks_px[np.isfinite(landmarks_px).all(axis=1)]
        if len(seen):
            self._rider.append((t_ns, _hull(seen)))
        while self._rider and t_ns - self._rider[0][0] > RIDER_OVER_NS:
            self._rider.popleft()

    def _rider_outline_px(self) -> FloatArray | None:
        """Return the outline of all that the rider covered lately, with a margin."""
        if not self._rider:
            return None
        hull = _hull(np.concatenate([points for _, points in self._rider]))
        margin_px = MARGIN * float(np.ptp(hull, axis=0).max())
        return _hull((hull[:, None] + margin_px * _RING).reshape(-1, 2))

    def _gather(self, t_ns: int, picture: Picture) -> None:
        if self._due_ns is None or t_ns >= self._due_ns:
            self._due_ns = t_ns + GATHER_EVERY_NS
            self._gathered.append(picture)
        if self._gather_from_ns is None:
            self._gather_from_ns = t_ns
        if t_ns - self._gather_from_ns < GATHER_NS:
            return
        try:
            self.background = make_background(self._gathered, self._rider_outline_px())
        except BadInput:
            self._gather_from_ns = None
        self._gathered = []
        self._due_ns = None

    def _require_size(self, background: Background, picture: Picture) -> None:
        height_px, width_px = picture.shape[:2]
        if (width_px, height_px) != (background.width_px, background.height_px):
            raise BadInput(
                f"The camera was set up with pictures of {background.width_px} x"
                f" {background.height_px} px, and gives {width_px} x {height_px} px now.",
                "Set the camera to that size, or set it up again.",
            )


def _hull(points_px: FloatArray) -> FloatArray:
    """Return the convex outline of points, (k, 2)."""
    hull = cv2.convexHull(points_px.astype(np.float32))
    return np.asarray(hull, np.float64).reshape(-1, 2)
