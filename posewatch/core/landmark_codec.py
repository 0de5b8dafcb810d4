"""The stored form of landmarks: sixteenths of a pixel in int16, visibility and presence in uint8.

The pipeline is fed what comes out of :func:`decode`, live too, so that a recording gives the very
numbers that the live run had.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from posewatch.core.records import N_LANDMARKS, FloatArray, Frame

STEPS_PER_PX = 16
#: Marks "nobody found"; no landmark lies there, since encode clips one step above it.
NOT_SEEN = np.int16(-32768)
LEVELS = 255


@dataclass(frozen=True, slots=True, eq=False)
class StoredLandmarks:
    """Landmarks of one picture as they are kept.

    points: (33, 2) int16, sixteenths of a pixel; visibility, presence: (33,) uint8, 255 = 1.
    """

    points: NDArray[np.int16]
    visibility: NDArray[np.uint8]
    presence: NDArray[np.uint8]


def encode(points_px: FloatArray, visibility: FloatArray, presence: FloatArray) -> StoredLandmarks:
    """Round landmarks to their stored form.

    Args:
        points_px: (33, 2) float64, image px; NaN = not seen.
        visibility: (33,) float64, 0 to 1.
        presence: (33,) float64, 0 to 1.

    Points beyond +-2047 px are clipped there: they lie far outside any picture in use.
    """
    steps = np.rint(points_px * STEPS_PER_PX)
    seen = np.isfinite(steps)
    kept = np.where(seen, np.clip(np.where(seen, steps, 0), -32767, 32767), NOT_SEEN)
    return StoredLandmarks(
        kept.astype(np.int16),
        np.rint(np.clip(visibility, 0, 1) * LEVELS).astype(np.uint8),
        np.rint(np.clip(presence, 0, 1) * LEVELS).astype(np.uint8),
    )


def decode(t_ns: int, stored: StoredLandmarks) -> Frame:
    """Return the frame that the pipeline is fed."""
    points_px = stored.points / float(STEPS_PER_PX)
    points_px[stored.points == NOT_SEEN] = np.nan
    return Frame(t_ns, points_px, stored.visibility / LEVELS, stored.presence / LEVELS)


def nobody() -> StoredLandmarks:
    """Return the stored form of a picture in which nobody was found."""
    return StoredLandmarks(
        np.full((N_LANDMARKS, 2), NOT_SEEN, np.int16),
        np.zeros(N_LANDMARKS, np.uint8),
        np.zeros(N_LANDMARKS, np.uint8),
    )
