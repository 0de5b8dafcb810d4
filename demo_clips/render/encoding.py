"""Writes images as an H.264 clip at a constant rate."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
from numpy.typing import NDArray

from demo_clips.render.camera import SideCamera

Image = NDArray[np.uint8]

USUAL_CRF = 23  # of the encoder's quality scale: lower is better and larger


def encode(
    path: Path,
    camera: SideCamera,
    frames_per_s: int,
    images: Iterable[Image],
    crf: int = USUAL_CRF,
) -> None:
    """Write the images of a camera, presentation times from 0; no frame waits for a later one."""
    options = {"crf": str(crf), "preset": "slow", "bf": "0"}
    with av.open(str(path), "w", format="mp4", options={"movflags": "+faststart"}) as container:
        stream = container.add_stream("libx264", rate=frames_per_s, options=options)
        stream.width, stream.height = camera.width_px, camera.height_px
        stream.pix_fmt = "yuv420p"
        stream.time_base = Fraction(1, frames_per_s)
        for number, image in enumerate(images):
            picture = av.VideoFrame.from_ndarray(image, format="rgb24")
            picture.pts = number
            picture.time_base = Fraction(1, frames_per_s)
            container.mux(stream.encode(picture))
        container.mux(stream.encode(None))
