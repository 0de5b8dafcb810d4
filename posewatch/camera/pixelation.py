"""Makes parts of a picture unrecognisable for good: of each block only its mean colour is left."""

from __future__ import annotations

from collections.abc import Iterable

from posewatch.camera.opencv import cv2
from posewatch.core.face_region import Patch
from posewatch.core.sources import Picture


def pixelate(picture: Picture, patches: Iterable[Patch]) -> None:
    """Replace every block of the patches by its mean, in place; picture: of any order of colours.

    Blocks are counted from a patch's top left corner; the last of a row or column may be narrower.
    """
    for patch in patches:
        inside = picture[patch.top : patch.bottom, patch.left : patch.right]
        height, width = inside.shape[:2]
        side = patch.block_px
        rows, columns = -(-height // side), -(-width // side)
        # Edge blocks are filled up with their own last pixels, so that all are of one size.
        filled = cv2.copyMakeBorder(
            inside, 0, rows * side - height, 0, columns * side - width, cv2.BORDER_REPLICATE
        )
        means = cv2.resize(filled, (columns, rows), interpolation=cv2.INTER_AREA)
        blocks = cv2.resize(
            means, (columns * side, rows * side), interpolation=cv2.INTER_NEAREST_EXACT
        )
        inside[:] = blocks[:height, :width]
