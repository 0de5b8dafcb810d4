"""How sharp patches of a picture are, measured along the patches as they were.

Fine detail and contrast are regressions on the kept patch, so that the sensor's noise, which is
like no patch, adds nothing to either, and the strength of the light cancels between them.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from posewatch.camera.opencv import cv2
from posewatch.core.records import BoolArray, FloatArray
from posewatch.core.view_motion import Background

#: Fine detail lies between these two blurs (SD in px), contrast beyond the second.
FINE_PX, COARSER_PX = 0.7, 1.5


def detail_share(patches: NDArray[np.uint8]) -> FloatArray:
    """Return the share of fine detail in each patch's contrast: (n,), of (n, side, side)."""
    fine, contrast = _weights(patches)
    exact = patches.astype(np.float64)
    return _sums(fine, exact) / _sums(contrast, exact)


def detail_kept(
    background: Background, which: BoolArray, grey: NDArray[np.uint8], tops: FloatArray
) -> FloatArray:
    """Return how much of its share of fine detail each patch still has: 1 = all.

    Args:
        background: the patches as they were.
        which: (n,) those to measure, m of them.
        grey: the picture, of the patches' size.
        tops: (m, 2) where the middle of each one's top left pixel lies now, in pixels of grey
            from the middle of the first.
    """
    side = background.patches.shape[1]
    if not which.any():
        return np.empty(0)
    steps = np.arange(side)
    x = np.broadcast_to(tops[:, 0, None, None] + steps, (len(tops), side, side))
    y = np.broadcast_to(tops[:, 1, None, None] + steps[:, None], x.shape)
    now = cv2.remap(
        grey,
        x.reshape(-1, side).astype(np.float32),
        y.reshape(-1, side).astype(np.float32),
        cv2.INTER_CUBIC,
        borderMode=cv2.BORDER_REPLICATE,
    )
    exact = now.reshape(x.shape).astype(np.float64)
    fine, contrast = (_sums(weights[which], exact) for weights in _kept_weights(background))
    kept: FloatArray = fine / np.where(contrast > 0, contrast, np.nan)
    return kept / background.sharpness[which]


@lru_cache(maxsize=2)
def _kept_weights(background: Background) -> tuple[FloatArray, FloatArray]:
    return _weights(background.patches)


def _weights(patches: NDArray[np.uint8]) -> tuple[FloatArray, FloatArray]:
    """Return what to sum a picture with for its fine detail, and contrast, along each patch.

    The product of two filtered patches is that of one as it is with the other filtered there and
    back.
    """
    side = patches.shape[1]
    finer, coarser = (_blur(side, sd_px) for sd_px in (FINE_PX, COARSER_PX))
    exact = patches.astype(np.float64)
    contrast = coarser @ exact @ coarser.T
    fine = finer @ exact @ finer.T - contrast
    contrast = contrast - contrast.mean(axis=(1, 2), keepdims=True)
    return (
        finer.T @ fine @ finer - coarser.T @ fine @ coarser,
        coarser.T @ contrast @ coarser,
    )


def _blur(side: int, sd_px: float) -> FloatArray:
    """Return the blur along one side of a patch as a matrix, mirrored at the ends."""
    blur = cv2.GaussianBlur(np.eye(side), (1, 13), sigmaX=1.0, sigmaY=sd_px)
    return np.asarray(blur, np.float64)


def _sums(weights: FloatArray, patches: FloatArray) -> FloatArray:
    sums: FloatArray = np.einsum("nij,nij->n", weights, patches)
    return sums
