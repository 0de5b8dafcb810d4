"""A camera by its number, for looking at boards: opened, read and released by one thread."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator

import numpy as np

from posewatch.camera.opencv import cv2
from posewatch.core.sources import TimedPicture
from posewatch.errors import BadInput

#: Reads that may fail one after the other before the camera is taken to be gone.
MISSED_READS = 30


def open_camera(index: int) -> cv2.VideoCapture:
    """Open a camera by its number.

    Raises:
        BadInput: there is none, or another program has it.
    """
    capture = cv2.VideoCapture(index)
    if not capture.isOpened():
        capture.release()
        raise BadInput(
            f"There is no camera {index} that can be opened.",
            "Plug it in, close other programs that use it, allow camera access in the system's "
            "settings, and count from 0.",
        )
    return capture


def live_pictures(
    capture: cv2.VideoCapture, now_ns: Callable[[], int], stop: threading.Event
) -> Iterator[TimedPicture]:
    """Give pictures until stopped, stamped when they were grabbed; the first is at 0.

    Raises:
        BadInput: the camera gives no more pictures.
    """
    first_ns: int | None = None
    missed = 0
    while not stop.is_set():
        grabbed = capture.grab()
        t_ns = now_ns()
        there, bgr = capture.retrieve() if grabbed else (False, None)
        if not there or bgr is None:
            missed += 1
            if missed == MISSED_READS:
                raise BadInput(
                    "The camera gives no more pictures.", "Plug it in again, and try once more."
                )
            continue
        missed = 0
        first_ns = t_ns if first_ns is None else first_ns
        rgb = np.asarray(cv2.cvtColor(bgr, cv2.COLOR_BGR2RGB), np.uint8)
        yield TimedPicture(t_ns - first_ns, rgb)
