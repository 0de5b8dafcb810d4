"""Record the landmarks of a stream of pictures."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Protocol

from posewatch.core.landmark_codec import StoredLandmarks
from posewatch.core.sources import PictureSource, PoseModelInfo, TimedPicture
from posewatch.errors import BadInput
from posewatch.pose.recorded import RecordedFrom, write_recording

#: Called after each picture with how many are done and how many are expected (0 = not known).
Progress = Callable[[int, int], None]


class StoringEstimator(Protocol):
    """A pose estimator that gives landmarks in their stored form."""

    model: PoseModelInfo

    def detect_stored(self, picture: TimedPicture) -> StoredLandmarks: ...


def record_landmarks(
    pictures: PictureSource,
    estimator: StoringEstimator,
    path: Path,
    source_sha256: str = "",
    progress: Progress | None = None,
) -> int:
    """Run a pose model over all pictures and write what it finds to ``path``.

    Closes neither the pictures nor the estimator. If anything goes wrong nothing is written.

    Args:
        pictures: where the pictures come from; its name goes into the file.
        estimator: fresh, and owned by the calling thread.
        path: the file to write, by custom ``*.landmarks.npz``; one of that name is replaced.
        source_sha256: of the clip, empty = the pictures do not come from a file.
        progress: is told how far it is.

    Returns:
        how many pictures were recorded.

    Raises:
        BadInput: there was no picture, or the file cannot be written.
    """
    times: list[int] = []
    landmarks: list[StoredLandmarks] = []
    for picture in pictures:
        landmarks.append(estimator.detect_stored(picture))
        times.append(picture.t_ns)
        if progress:
            progress(len(times), pictures.info.n_frames)
    if not times:
        raise BadInput(
            f"{pictures.info.name} gave no picture, so there is nothing to record.",
            "Check the clip or the camera.",
        )
    source = RecordedFrom(pictures.info.name, source_sha256)
    write_recording(path, pictures.info, estimator.model, source, times, landmarks)
    return len(times)
