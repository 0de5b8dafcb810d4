"""Pictures of a camera for looking at boards: read in the calling thread, until it is stopped."""

from __future__ import annotations

import threading
from collections.abc import Iterator

from posewatch.core.sources import LiveCamera, TimedPicture
from posewatch.errors import BadInput

#: Reads that may fail one after the other before the camera is taken to be gone.
MISSED_READS = 30


def live_pictures(camera: LiveCamera, stop: threading.Event) -> Iterator[TimedPicture]:
    """Give a camera's pictures until stopped; the first is at 0.

    Raises:
        BadInput: the camera gives no more pictures.
    """
    first_ns: int | None = None
    missed = 0
    while not stop.is_set():
        picture = camera.read()
        if picture is None:
            missed += 1
            if missed == MISSED_READS:
                raise BadInput(
                    "The camera gives no more pictures.", "Plug it in again, and try once more."
                )
            continue
        missed = 0
        first_ns = picture.t_ns if first_ns is None else first_ns
        yield TimedPicture(picture.t_ns - first_ns, picture.rgb)
