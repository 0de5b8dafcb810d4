"""A pose model whose near-side joints are read from dots."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
from made_landmarks import MODEL, MadeEstimator, MadePictures, same_frames

from posewatch.core.landmark_codec import decode
from posewatch.core.measuring_chain import PointSource
from posewatch.core.records import Frame
from posewatch.core.sources import TimedPicture
from posewatch.pose.detected import DetectedFrames
from posewatch.pose.dotted import DottedEstimator
from posewatch.pose.recorded import RecordedLandmarks
from posewatch.pose.recording import record_landmarks


class Reader:
    """Puts the fourth landmark where the picture's number says."""

    def read(self, picture: TimedPicture, frame: Frame) -> Frame:
        points = frame.points_px.copy()
        points[3] = (10.0 + int(picture.rgb[0, 0, 0]), 20.0625)
        return replace(frame, points_px=points)


def dotted() -> DottedEstimator:
    return DottedEstimator(MadeEstimator(), Reader())


def test_the_model_says_that_its_points_are_dots() -> None:
    assert dotted().model == replace(MODEL, points=PointSource.DOTS)
    assert MODEL.points is PointSource.LANDMARKS


def test_the_reader_has_the_last_word_and_the_rest_stays() -> None:
    picture = next(iter(MadePictures()))
    plain, seen = MadeEstimator().detect(picture), dotted().detect(picture)
    assert seen.points_px[3].tolist() == [10.0, 20.0625]
    others = np.arange(33) != 3
    assert np.array_equal(seen.points_px[others], plain.points_px[others], equal_nan=True)
    stored = decode(picture.t_ns, dotted().detect_stored(picture))
    assert same_frames([seen], [stored])


def test_a_recording_of_dots_says_so_and_gives_the_same_frames(tmp_path: Path) -> None:
    path = tmp_path / "made.dots.landmarks.npz"
    record_landmarks(MadePictures(), dotted(), path)
    recorded = RecordedLandmarks(path)
    assert recorded.model.points is PointSource.DOTS
    live = [f for f in DetectedFrames(MadePictures(), dotted()) if isinstance(f, Frame)]
    assert same_frames(list(recorded), live)


def test_closing_closes_the_model() -> None:
    estimator = MadeEstimator()
    DottedEstimator(estimator, Reader()).close()
    assert estimator.n_closed == 1
