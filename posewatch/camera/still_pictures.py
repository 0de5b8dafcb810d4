"""Still pictures read from files, and a few pictures of a clip that stands still."""

from __future__ import annotations

from itertools import islice
from pathlib import Path

import numpy as np

from posewatch.camera.clip import Clip
from posewatch.camera.opencv import cv2
from posewatch.core.sources import Picture
from posewatch.errors import BadInput

STILLS = (".png", ".jpg", ".jpeg", ".bmp", ".tif", ".tiff", ".webp")
#: So many pictures of a clip, one in so many, show what stands still in it.
SAMPLED, SAMPLED_EVERY = 10, 3


def is_still(path: Path) -> bool:
    """Tell by its name whether a file is a single picture."""
    return path.suffix.lower() in STILLS


def read_still(path: Path) -> Picture:
    """Return a picture as RGB.

    Raises:
        BadInput: no such file, or no picture.
    """
    try:
        # OpenCV's own reader stumbles over names outside ASCII on Windows.
        data = np.frombuffer(path.read_bytes(), np.uint8)
    except OSError as error:
        raise BadInput(
            f"There is no picture {path} that can be read ({error.strerror or error}).",
            "Give the path of a picture or a clip.",
        ) from error
    bgr = cv2.imdecode(data, cv2.IMREAD_COLOR) if len(data) else None
    if bgr is None:
        raise BadInput(f"{path} is not a picture.", "Give a PNG or JPEG picture, or a clip.")
    return np.asarray(cv2.cvtColor(bgr, cv2.COLOR_BGR2RGB), np.uint8)


def read_few(path: Path) -> list[Picture]:
    """Return a still picture, or some of a clip's first second.

    Raises:
        BadInput: the file cannot be used.
    """
    if is_still(path):
        return [read_still(path)]
    clip = Clip(path)
    try:
        return [timed.rgb for timed in islice(clip, 0, SAMPLED * SAMPLED_EVERY, SAMPLED_EVERY)]
    finally:
        clip.close()
