"""Landmarks made on the spot: a pose model over a source of pictures."""

from __future__ import annotations

from collections.abc import Iterator

from posewatch.core.records import Seen
from posewatch.core.sources import Lookout, PictureSource, PoseEstimator


class DetectedFrames:
    """Runs an estimator over pictures in the calling thread; a ``FrameSource``.

    Owns both: closing it closes them. The calling thread must be the estimator's owner.

    Args:
        pictures: where the pictures come from.
        estimator: fresh, since the times of a new stream begin again at zero.
        lookout: for a moved camera; None = nobody looks.
    """

    def __init__(
        self, pictures: PictureSource, estimator: PoseEstimator, lookout: Lookout | None = None
    ) -> None:
        self.info = pictures.info
        self.model = estimator.model
        self._pictures = pictures
        self._estimator = estimator
        self._lookout = lookout

    def __iter__(self) -> Iterator[Seen]:
        for picture in self._pictures:
            frame = self._estimator.detect(picture)
            if self._lookout is not None:
                yield from self._lookout.look_at(picture.t_ns, picture.rgb, frame.points_px)
            yield frame

    def close(self) -> None:
        """Close the pictures and the estimator; closing twice is harmless."""
        try:
            self._pictures.close()
        finally:
            self._estimator.close()
