"""The pose model at work: pictures in, landmarks out. The only module that loads mediapipe.

The library is used in VIDEO mode on the CPU, for one person. Its silent habits are turned into
errors here: it ignores the strides of an array, and after closing it says "nobody" for ever.
"""

from __future__ import annotations

import os
import threading

# mediapipe may load matplotlib, which must not look for a display.
os.environ.setdefault("MPLBACKEND", "Agg")

import mediapipe as mp
import numpy as np
from mediapipe.tasks.python.core.base_options import BaseOptions
from mediapipe.tasks.python.vision import (
    PoseLandmarker,
    PoseLandmarkerOptions,
    RunningMode,
)

from posewatch.core.landmark_codec import StoredLandmarks, decode, encode, nobody
from posewatch.core.records import N_LANDMARKS, Frame
from posewatch.core.sources import StreamInfo, TimedPicture
from posewatch.errors import ModelProblem
from posewatch.pose.bundles import PoseBundle

NS_PER_MS = 1_000_000


class Landmarker:
    """Runs one pose model over pictures whose times rise; a ``PoseEstimator``.

    Owned by the thread that makes it: that thread also detects and closes. A new stream of
    pictures needs a new landmarker, since the model follows the person from picture to picture.

    Args:
        bundle: the model, from :func:`posewatch.pose.bundles.load_bundle`.

    Raises:
        ModelProblem: the library cannot use the bundle.
    """

    def __init__(self, bundle: PoseBundle) -> None:
        options = PoseLandmarkerOptions(
            base_options=BaseOptions(
                model_asset_buffer=bundle.data, delegate=BaseOptions.Delegate.CPU
            ),
            running_mode=RunningMode.VIDEO,
            num_poses=1,
        )
        try:
            self._landmarker = PoseLandmarker.create_from_options(options)
        except (RuntimeError, ValueError) as cause:
            raise ModelProblem(
                f"The pose model {bundle.model.name} does not work with {bundle.model.library}.",
                "Use the model lite or full; if it is one of these, install posewatch again.",
            ) from cause
        self.model = bundle.model
        self._owner = threading.get_ident()
        self._last_ms = -1
        self._closed = False

    def warm_up(self, info: StreamInfo) -> None:
        """Look once at an empty picture, so that the first real one does not wait for it.

        The model finds nobody there, and begins with the next picture as if it were the first.
        """
        self.detect(TimedPicture(0, np.full((info.height_px, info.width_px, 3), 127, np.uint8)))

    def detect(self, picture: TimedPicture) -> Frame:
        """Return the landmarks as the pipeline is fed them: decoded from their stored form.

        Raises:
            ValueError: the picture is not contiguous RGB, or the library refuses it.
            RuntimeError: called after close, or from another thread.
        """
        return decode(picture.t_ns, self.detect_stored(picture))

    def detect_stored(self, picture: TimedPicture) -> StoredLandmarks:
        """Return the landmarks in their stored form, for a recording; errors as for detect."""
        self._require_owner()
        if self._closed:
            raise RuntimeError("The landmarker is closed.")
        height, width = require_contiguous_rgb(picture)
        # The library wants whole milliseconds that rise, whatever the rate of the pictures.
        self._last_ms = max(self._last_ms + 1, picture.t_ns // NS_PER_MS)
        image = mp.Image(image_format=mp.ImageFormat.SRGB, data=picture.rgb)
        poses = self._landmarker.detect_for_video(image, self._last_ms).pose_landmarks
        if not poses:
            return nobody()
        values = np.array(
            [(mark.x, mark.y, mark.visibility, mark.presence) for mark in poses[0]], np.float64
        )
        if values.shape != (N_LANDMARKS, 4):
            raise RuntimeError(f"The pose model gave landmarks of shape {values.shape}.")
        return encode(values[:, :2] * (width, height), values[:, 2], values[:, 3])

    def close(self) -> None:
        """Free the model; closing twice is harmless.

        Raises:
            RuntimeError: called from another thread.
        """
        self._require_owner()
        if not self._closed:
            self._closed = True
            self._landmarker.close()

    def _require_owner(self) -> None:
        if threading.get_ident() != self._owner:
            raise RuntimeError("The landmarker was called from a thread that does not own it.")


def require_contiguous_rgb(picture: TimedPicture) -> tuple[int, int]:
    """Return (height, width) of a picture that the library reads as it is meant.

    Raises:
        ValueError: not uint8, not (height, width, 3), or not contiguous (a flipped or cropped
            view), which the library would read as wrong pixels without a word.
    """
    rgb = picture.rgb
    if rgb.dtype != np.uint8 or rgb.ndim != 3 or rgb.shape[2] != 3 or rgb.size == 0:
        raise ValueError(
            f"A picture must be uint8 of shape (height, width, 3), not {rgb.dtype} of {rgb.shape}."
        )
    if not rgb.flags.c_contiguous:
        raise ValueError("A picture must be contiguous; copy a flipped or cropped view first.")
    return rgb.shape[0], rgb.shape[1]
