"""Which part of a picture must be made unrecognisable, so that the rider's face cannot be known.

The head is found by the pose model's landmarks of that very picture. Where it finds none, the head
cannot be far from where it was: that part is hidden, wider from moment to moment, for a second.
After that nobody knows where the face is, and the whole picture is hidden. The model looks for one
person: nobody else's face is found.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from posewatch.core.landmarks import MIN_PRESENCE, MIN_VISIBILITY
from posewatch.core.records import NS_PER_S, Frame

#: Nose, eyes, ears and mouth (the pose model's published list of 33), and how many of them a head
#: needs.
HEAD_POINTS = slice(0, 11)
LEAST_POINTS = 6
#: A head from chin to crown, in the largest distance between those points, which all lie on its
#: front half: about 2 on a bare head, up to 3 with a helmet.
HEADS_A_SPREAD = 2.5
#: A face that is seen from behind or above draws its points together: shoulders to hips say how
#: large it is at least. Of riders seen from the side the share is 0.2.
LEAST_SPREAD_OF_TRUNK = 0.2
#: Nor can anybody be known by a head that is a smaller share of the picture's longer side.
LEAST_HEAD_OF_PICTURE = 0.05
#: Around the head, in heads, on each side.
MARGIN_HEADS = 0.5
#: How long the last head stands for one that is not found, and how fast it may have moved: in
#: heads a second, 1.4 m/s.
REMEMBERED_NS = NS_PER_S
SPEED_HEADS_S = 6.0
#: So many blocks across what is hidden, at most: four across the head itself.
BLOCKS_ACROSS = 8
LEAST_BLOCK_PX = 4


@dataclass(frozen=True, slots=True)
class Patch:
    """A rectangle that is to be made unrecognisable, in blocks of block_px.

    Picture px; right and bottom are the first outside. It lies inside the picture.
    """

    left: int
    top: int
    right: int
    bottom: int
    block_px: int


@dataclass(frozen=True, slots=True)
class Head:
    """A head that was found: its middle, and its height in px."""

    t_ns: int
    x_px: float
    y_px: float
    head_px: float


@dataclass(frozen=True, slots=True)
class FaceState:
    """The head that was found last, None = none within memory."""

    last: Head | None = None


def step(
    state: FaceState, frame: Frame, width_px: int, height_px: int
) -> tuple[FaceState, tuple[Patch, ...]]:
    """Take in a picture's landmarks; return what of it must be hidden, at least one patch.

    A head that is found where the last one cannot have got to may be somebody else's, or nobody's:
    then both places are hidden, until the last one is forgotten.
    """
    last = state.last
    if last is not None and frame.t_ns - last.t_ns > REMEMBERED_NS:
        last = None
    found = _head(frame, width_px, height_px)
    patches = []
    if found is not None:
        patches.append(_patch(found, _half_px(found, found.t_ns), width_px, height_px))
    if last is not None and (found is None or not _within(last, found)):
        patches.append(_patch(last, _half_px(last, frame.t_ns), width_px, height_px))
    elif found is not None:
        last = found
    if not patches:
        return FaceState(), (_whole(width_px, height_px),)
    return FaceState(last), tuple(patches)


def _head(frame: Frame, width_px: int, height_px: int) -> Head | None:
    """Return the head that the model sees inside the picture; None = it sees none."""
    points = frame.points_px[HEAD_POINTS]
    believed = (
        (frame.visibility[HEAD_POINTS] >= MIN_VISIBILITY)
        & (frame.presence[HEAD_POINTS] >= MIN_PRESENCE)
        & np.isfinite(points).all(axis=1)
    )
    if believed.sum() < LEAST_POINTS:
        return None
    seen = points[believed]
    x_px, y_px = ((seen.min(axis=0) + seen.max(axis=0)) / 2).tolist()
    if not (0 <= x_px < width_px and 0 <= y_px < height_px):
        return None
    between = seen[:, None] - seen[None, :]
    spread_px = float(np.hypot(between[..., 0], between[..., 1]).max())
    shoulders, hips = frame.points_px[11:13].mean(axis=0), frame.points_px[23:25].mean(axis=0)
    trunk_px = math.hypot(*(shoulders - hips).tolist())
    if math.isfinite(trunk_px):
        spread_px = max(spread_px, LEAST_SPREAD_OF_TRUNK * trunk_px)
    least_px = LEAST_HEAD_OF_PICTURE * max(width_px, height_px)
    return Head(frame.t_ns, x_px, y_px, max(HEADS_A_SPREAD * spread_px, least_px))


def _half_px(head: Head, t_ns: int) -> float:
    """Return how far from its middle is hidden, at a time at which it may have moved."""
    moved = SPEED_HEADS_S * (t_ns - head.t_ns) / NS_PER_S
    return head.head_px * (0.5 + MARGIN_HEADS + moved)


def _within(last: Head, found: Head) -> bool:
    reach_px = _half_px(last, found.t_ns)
    return abs(found.x_px - last.x_px) <= reach_px and abs(found.y_px - last.y_px) <= reach_px


def _patch(head: Head, half_px: float, width_px: int, height_px: int) -> Patch:
    """Return the square around a head, cut off at the picture's edges; its blocks are not."""
    return Patch(
        max(0, math.floor(head.x_px - half_px)),
        max(0, math.floor(head.y_px - half_px)),
        min(width_px, math.ceil(head.x_px + half_px)),
        min(height_px, math.ceil(head.y_px + half_px)),
        _block_px(2 * half_px),
    )


def _whole(width_px: int, height_px: int) -> Patch:
    return Patch(0, 0, width_px, height_px, _block_px(max(width_px, height_px)))


def _block_px(side_px: float) -> int:
    return max(LEAST_BLOCK_PX, math.ceil(side_px / BLOCKS_ACROSS))
