"""A video file as a source of pictures.

A picture's time is its presentation time minus that of the first picture, so clips of a variable
rate, and clips that do not begin at zero, are timed as they were filmed. Nothing is computed from
a rate in a header.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np

from posewatch.camera.opencv import cv2
from posewatch.core.sources import Picture, StreamInfo, TimedPicture
from posewatch.errors import BadInput

#: Landmarks are stored in sixteenths of a pixel in 16 bits.
MAX_SIDE_PX = 2047
#: How many pictures at the beginning tell the usual rate.
RATE_FRAMES = 60
#: A clip that ends this many usual steps (or its longest step) before its declared end has lost
#: pictures. Two, since the declared end is the end of the last picture, and is rounded.
END_STEPS = 2.0

NS_PER_MS = 1_000_000
NS_PER_S = 1_000_000_000

_ASK_FOR_ANOTHER = "Give another clip, or convert this one to MP4 (H.264) and try again."


class Clip:
    """A clip, upright as the phone or camera held it; a ``PictureSource``.

    Every run through it starts at the beginning. The decoder is opened, read and released by the
    thread that runs through the clip.

    Attributes:
        info: size and rate; n_frames is what the file says, and may be wrong.
        n_dropped_times: pictures left out of the last run because their time did not rise.
        n_missing: pictures that the file promises beyond those read in the last run, when it
            ended early (a truncated or damaged file); 0 otherwise, and 0 before the end.

    Raises:
        BadInput: the clip is missing, is no video, has fewer than two pictures with rising
            times, or its pictures are too large.
    """

    def __init__(self, path: Path) -> None:
        self.n_dropped_times = 0
        self.n_missing = 0
        self._path = path
        self._closed = False
        if not path.is_file():
            raise BadInput(f"There is no clip {path}.", "Give the path of a video file.")
        capture = self._open()
        try:
            n_frames = max(0, int(capture.get(cv2.CAP_PROP_FRAME_COUNT)))
            times_ns, (height, width) = self._peek(capture)
            self._declared_ns = _declared_length_ns(capture)
        finally:
            capture.release()
        if max(width, height) > MAX_SIDE_PX:
            raise BadInput(
                f"The pictures of {path} are {width} x {height} px; more than {MAX_SIDE_PX} px"
                " in width or height cannot be stored.",
                "Scale the clip down, for example to 1280 px, and try again.",
            )
        self._step_ns = float(np.median(np.diff(times_ns)))
        self.info = StreamInfo(path.name, width, height, NS_PER_S / self._step_ns, n_frames)

    def __iter__(self) -> Iterator[TimedPicture]:
        if self._closed:
            raise RuntimeError("The clip is closed.")
        self.n_dropped_times = self.n_missing = 0
        capture = self._open()
        try:
            n_read, last_ns, longest_ns = 0, -1, END_STEPS * self._step_ns
            for t_ns, rgb in _pictures(capture):
                if self._closed:
                    return
                n_read += 1
                if t_ns <= last_ns:
                    self.n_dropped_times += 1
                    continue
                if rgb.shape[:2] != (self.info.height_px, self.info.width_px):
                    raise BadInput(
                        f"The picture size of {self._path} changes at {t_ns / NS_PER_S:.1f} s.",
                        _ASK_FOR_ANOTHER,
                    )
                longest_ns = max(longest_ns, t_ns - last_ns)
                last_ns = t_ns
                yield TimedPicture(t_ns, rgb)
            if last_ns + longest_ns < self._declared_ns:
                self.n_missing = max(0, self.info.n_frames - n_read)
        finally:
            capture.release()

    def close(self) -> None:
        """End the run through the clip; closing twice is harmless."""
        self._closed = True

    def _open(self) -> cv2.VideoCapture:
        capture = cv2.VideoCapture(str(self._path), cv2.CAP_FFMPEG)
        if not capture.isOpened():
            raise BadInput(
                f"{self._path} cannot be opened as a video: it is no video, its index is missing"
                " (a copy that was cut short), or its kind is not known here.",
                _ASK_FOR_ANOTHER,
            )
        # The default of turning phone clips upright has changed between versions.
        capture.set(cv2.CAP_PROP_ORIENTATION_AUTO, 1)
        return capture

    def _peek(self, capture: cv2.VideoCapture) -> tuple[list[int], tuple[int, int]]:
        """Return the rising times of the first pictures, in ns, and (height, width)."""
        times_ns: list[int] = []
        size = (0, 0)
        n_read = 0
        for t_ns, rgb in _pictures(capture):
            n_read += 1
            size = rgb.shape[:2]
            if not times_ns or t_ns > times_ns[-1]:
                times_ns.append(t_ns)
            if len(times_ns) == RATE_FRAMES:
                break
        if not n_read:
            raise BadInput(f"No picture can be read from {self._path}.", _ASK_FOR_ANOTHER)
        if len(times_ns) < 2:
            raise BadInput(
                f"{self._path} has no two pictures with rising times (pictures read: {n_read}).",
                _ASK_FOR_ANOTHER,
            )
        return times_ns, size


def _declared_length_ns(capture: cv2.VideoCapture) -> float:
    """Return how long the file says it is from its first picture on, in ns; 0 = not known.

    Some containers count from time zero, although the first picture comes later; the decoder
    tells how much later in steps of the declared rate, as a negative delay, once it has read.
    """
    rate_hz = float(capture.get(cv2.CAP_PROP_FPS))
    if not rate_hz > 0:
        return 0.0
    n_steps = capture.get(cv2.CAP_PROP_FRAME_COUNT)
    n_before = -capture.get(cv2.CAP_PROP_DTS_DELAY)
    return max(0.0, n_steps - max(0.0, n_before)) / rate_hz * NS_PER_S


def _pictures(capture: cv2.VideoCapture) -> Iterator[tuple[int, Picture]]:
    """Give time since the first picture in ns, and contiguous RGB, until the decoder stops."""
    first_ms: float | None = None
    while True:
        there, bgr = capture.read()
        if not there:
            return
        # The position is that of the picture just read; before a read it is another's.
        position_ms = float(capture.get(cv2.CAP_PROP_POS_MSEC))
        if first_ms is None:
            first_ms = position_ms
        t_ns = round((position_ms - first_ms) * NS_PER_MS)
        yield t_ns, np.asarray(cv2.cvtColor(bgr, cv2.COLOR_BGR2RGB), np.uint8)
