"""Landmarks made on the spot: a pose model over a source of pictures."""

from __future__ import annotations

from collections.abc import Iterator

from posewatch.core.records import Frame
from posewatch.core.sources import PictureSource, PoseEstimator


class DetectedFrames:
    """Runs an estimator over pictures in the calling thread; a ``FrameSource``.

    Owns both: closing it closes them. The calling thread must be the estimator's owner.

    Args:
        pictures: where the pictures come from.
        estimator: fresh, since the times of a new stream begin again at zero.
    """

    def __init__(self, pictures: PictureSource, estimator: PoseEstimator) -> None:
        self.info = pictures.info
        self.model = estimator.model
        self._pictures = pictures
        self._estimator = estimator

    def __iter__(self) -> Iterator[Frame]:
        for picture in self._pictures:
            yield self._estimator.detect(picture)

    def close(self) -> None:
        """Close the pictures and the estimator; closing twice is harmless."""
        try:
            self._pictures.close()
        finally:
            self._estimator.close()
