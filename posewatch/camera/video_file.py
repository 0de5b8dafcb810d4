"""Writes the video of a watch: pictures as MPEG-4 in Matroska, and their times beside it.

The container counts pictures and knows no times; those of the session stand in the table, one line
a picture. What was written can be seen after a kill: the container needs no index. It is written in
pieces of 256 kB, so that a second or two is missing then.
"""

from __future__ import annotations

from pathlib import Path
from typing import TextIO

import numpy as np

from posewatch.camera.opencv import cv2
from posewatch.camera.pixelation import pixelate
from posewatch.core import face_region
from posewatch.core.face_region import FaceState
from posewatch.core.records import NS_PER_S, Frame
from posewatch.core.sources import StreamInfo, TimedPicture
from posewatch.core.video_use import FILE_NAME, TIMES_NAME
from posewatch.errors import PosewatchError

#: Known to every player, and 1 to 2 ms a picture of a webcam's size.
CODEC = "mp4v"
COLUMNS = "picture,t_s"
#: The encoder says nothing when a file cannot grow (a drive's limit): it is looked at this often.
GROWS_WITHIN = 1800


class VideoFile:
    """The video of one watch. Opened, written and closed by one thread.

    Args:
        folder: is made; it holds the video and its times.
        info: size and usual rate of the pictures.
        blur_faces: the rider's face is made unrecognisable before anything is written.

    Raises:
        PosewatchError: it cannot be written.
        OSError: likewise.
    """

    def __init__(self, folder: Path, info: StreamInfo, blur_faces: bool) -> None:
        folder.mkdir()
        self._info, self._blur_faces = info, blur_faces
        self._path = folder / FILE_NAME
        self._face = FaceState()
        self._n = self._n_bytes = 0
        self._times: TextIO = (folder / TIMES_NAME).open("x", encoding="utf-8", buffering=1)
        self._times.write(f"{COLUMNS}\n")
        self._writer = cv2.VideoWriter(
            str(self._path),
            cv2.CAP_FFMPEG,
            cv2.VideoWriter.fourcc(*CODEC),
            info.rate_hz,
            (info.width_px, info.height_px),
        )
        if not self._writer.isOpened():
            self._times.close()
            raise PosewatchError(
                f"{self._path} cannot be written as a video.", "Watch without keeping a video."
            )

    def add(self, picture: TimedPicture, frame: Frame) -> None:
        """Write a picture; frame: the landmarks that were found in it. The picture stays as it is.

        Raises:
            PosewatchError: it cannot be written.
            OSError: likewise.
        """
        bgr = np.asarray(cv2.cvtColor(picture.rgb, cv2.COLOR_RGB2BGR), np.uint8)
        if self._blur_faces:
            height, width = bgr.shape[:2]
            self._face, patches = face_region.step(self._face, frame, width, height)
            pixelate(bgr, patches)
        self._n += 1
        # Before the picture, so that no picture is ever without its time.
        self._times.write(f"{self._n},{seconds_text(picture.t_ns)}\n")
        self._writer.write(bgr)
        if self._n % GROWS_WITHIN == 0:
            self._require_growth()

    def close(self) -> None:
        """Write what is left and close; closing twice is harmless."""
        self._writer.release()
        self._times.close()

    def _require_growth(self) -> None:
        n_bytes = self._path.stat().st_size
        if n_bytes <= self._n_bytes:
            raise PosewatchError(
                f"{self._path} does not grow beyond {n_bytes} bytes.",
                "Look whether its drive is full, or limits the size of a file.",
            )
        self._n_bytes = n_bytes


def seconds_text(t_ns: int) -> str:
    """Return session seconds, exact to the nanosecond."""
    return f"{t_ns // NS_PER_S}.{t_ns % NS_PER_S:09d}"
