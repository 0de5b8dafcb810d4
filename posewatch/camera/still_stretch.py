"""The stillest stretch of a board that a hand held up, and the mean of its corners."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from posewatch.core.records import FloatArray

#: As many pictures are averaged, two seconds of a usual camera; more take away no more noise,
#: since what is common to all of them stays.
STRETCH_FRAMES = 60
#: A corner that is missing in more than this share of a stretch is left out.
MISSING_SHARE = 0.2
#: Random error of a corner in a single picture, where there is nothing to tell it from, px.
SINGLE_SD_PX = 0.15


@dataclass(frozen=True, slots=True, eq=False)
class StillStretch:
    """corner_ids: (n,). corners_px: (n, 2) means over n_frames pictures.

    first: number of the picture with which it begins. scatter_px: how far the whole board moved,
    one SD a coordinate. corner_sd_px: random error of a mean corner.
    """

    corner_ids: NDArray[np.int64]
    corners_px: FloatArray
    first: int
    n_frames: int
    scatter_px: float
    corner_sd_px: float


def stillest(
    corner_ids: Sequence[NDArray[np.int64]],
    corners_px: Sequence[FloatArray],
    n_frames: int = STRETCH_FRAMES,
) -> StillStretch | None:
    """Return the mean over the stretch in which the board moved least; None = no corner to use.

    corner_ids: per picture (k,) numbers of the corners found; corners_px: per picture (k, 2).
    Pictures without the board are left out by the caller. n_frames: length of the stretch.
    """
    if not corner_ids:
        return None
    n_ids = 1 + max((int(ids.max()) for ids in corner_ids if len(ids)), default=-1)
    seen = np.full((len(corner_ids), n_ids, 2), np.nan)
    for row, ids, points in zip(seen, corner_ids, corners_px, strict=True):
        row[ids] = points
    n_frames = min(n_frames, len(seen))
    stretches = [_mean(seen[k : k + n_frames], k) for k in range(len(seen) - n_frames + 1)]
    most = max((len(one.corner_ids) for one in stretches if one is not None), default=0)
    whole = [one for one in stretches if one is not None and len(one.corner_ids) == most]
    return min(whole, key=lambda one: one.scatter_px, default=None)


def _mean(seen: FloatArray, first: int) -> StillStretch | None:
    """Return the mean of (frames, corners, 2), over pictures that show every kept corner."""
    there = np.isfinite(seen[..., 0])
    kept = np.flatnonzero(there.mean(axis=0) >= 1.0 - MISSING_SHARE)
    full = seen[there[:, kept].all(axis=1)][:, kept]
    if not len(kept) or not len(full):
        return None
    n_frames = len(full)
    if n_frames == 1:
        return StillStretch(kept, full[0], first, 1, 0.0, SINGLE_SD_PX)
    middles = full.mean(axis=1, keepdims=True)
    shapes = full - middles
    corner_sd = float(np.sqrt(np.mean(np.var(shapes, axis=0, ddof=1))))
    scatter = float(np.sqrt(np.mean(np.var(middles, axis=0, ddof=1))))
    mean = full.mean(axis=0)
    return StillStretch(kept, mean, first, n_frames, scatter, corner_sd / n_frames**0.5)
