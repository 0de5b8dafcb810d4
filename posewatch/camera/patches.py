"""Small patches of a picture looked for again in another one, each around where it was."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from posewatch.camera.opencv import cv2
from posewatch.core.records import BoolArray, FloatArray

Grey = NDArray[np.uint8]
WholePx = NDArray[np.int64]

#: Side of a patch; even, so that its middle is an outer corner of pixels.
SIDE_PX = 20
#: Least correlation of a patch that is found.
FOUND_LEAST = 0.6


def find_patches(
    grey: Grey, patches: Grey, tops: WholePx, begin: WholePx, reach: int, wanted: BoolArray
) -> tuple[FloatArray, FloatArray]:
    """Search for patches around where they may begin.

    Args:
        tops: (n, 2) top left pixel of each at set-up; shifts are from there.
        begin: (n, 2) top left pixel of each in the middle of the search.
        reach: how far to search to either side, whole px.
        wanted: (n,) which to search for.

    Returns:
        (n, 2) shifts to a part of a pixel, NaN = not found, and (n,) the greatest correlation.
    """
    shifts, correlation = np.full((len(tops), 2), np.nan), np.full(len(tops), np.nan)
    edged = np.asarray(
        cv2.copyMakeBorder(grey, reach, reach, reach, reach, cv2.BORDER_REPLICATE), np.uint8
    )
    wide, last = patches.shape[1] + 2 * reach, 2 * reach
    limit = np.array(edged.shape[::-1]) - wide
    inside = wanted & ((begin >= 0) & (begin <= limit)).all(axis=1)
    found, places, around = [], [], []
    corners = begin.tolist()
    for i in np.flatnonzero(inside).tolist():
        left, top = corners[i]
        window = edged[top : top + wide, left : left + wide]
        likeness = cv2.matchTemplate(window, patches[i], cv2.TM_CCOEFF_NORMED)
        _, correlation[i], _, (x, y) = cv2.minMaxLoc(likeness)
        if correlation[i] >= FOUND_LEAST and 0 < x < last and 0 < y < last:
            found.append(i)
            places.append((x, y))
            around.append(likeness[y - 1 : y + 2, x - 1 : x + 2])
    if found:
        near = np.array(around, np.float64)
        part = np.stack([_peak(near[:, 1, :]), _peak(near[:, :, 1])], axis=1)
        shifts[found] = begin[found] - reach + np.array(places) + part - tops[found]
    return shifts, correlation


def _peak(values: FloatArray) -> FloatArray:
    """Return where parabolas through three neighbours, the middle one highest, peak: (n,)."""
    before, at, after = values.T
    bend = before - 2 * at + after
    peak: FloatArray = 0.5 * (before - after) / np.where(bend < 0, bend, -np.inf)
    return peak
