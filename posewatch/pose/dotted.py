"""A pose model whose near-side joints are read from sticker dots."""

from __future__ import annotations

from dataclasses import replace

from posewatch.core.dots import PointReader
from posewatch.core.landmark_codec import StoredLandmarks, encode
from posewatch.core.measuring_chain import PointSource
from posewatch.core.records import Frame
from posewatch.core.sources import PoseEstimator, TimedPicture


class DottedEstimator:
    """Finds landmarks, then puts the dots' centres in their place; a ``PoseEstimator``.

    Owns the estimator: closing it closes that. The model's information says that points are dots.

    Args:
        estimator: the pose model.
        reader: of the dots, fresh as the estimator is.
    """

    def __init__(self, estimator: PoseEstimator, reader: PointReader) -> None:
        self.model = replace(estimator.model, points=PointSource.DOTS)
        self._estimator = estimator
        self._reader = reader

    def detect(self, picture: TimedPicture) -> Frame:
        """Return the frame of a picture; see the estimator for errors."""
        return self._reader.read(picture, self._estimator.detect(picture))

    def detect_stored(self, picture: TimedPicture) -> StoredLandmarks:
        """Return the same in its stored form: the reader gives what can be stored exactly."""
        frame = self.detect(picture)
        return encode(frame.points_px, frame.visibility, frame.presence)

    def close(self) -> None:
        """Close the estimator."""
        self._estimator.close()
