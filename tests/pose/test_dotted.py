"""A pose model whose near-side joints are dots."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
from made_landmarks import MODEL, MadeEstimator, MadePictures, same_frames

from posewatch.core.dot_fit import DOT_ROWS, N_DOTS, Spot
from posewatch.core.dots import with_dots
from posewatch.core.landmarks import LANDMARKS
from posewatch.core.measuring_chain import PointSource
from posewatch.core.records import Frame, Side
from posewatch.core.sources import TimedPicture
from posewatch.pose.detected import DetectedFrames
from posewatch.pose.dotted import DottedEstimator
from posewatch.pose.recorded import RecordedLandmarks
from posewatch.pose.recording import record_landmarks


class MadeReader:
    """Finds all dots at one place, and none in the first picture."""

    def read(self, picture: TimedPicture, frame: Frame) -> Frame:
        spot = Spot(12.5, 30.25, 20.0, 1.0, 0.0, 1.0) if picture.t_ns else None
        return with_dots(frame, Side.RIGHT, [spot] * N_DOTS)


def dotted() -> DottedEstimator:
    return DottedEstimator(MadeEstimator(), MadeReader())


def test_the_model_says_that_its_points_are_dots() -> None:
    assert MODEL.points is PointSource.LANDMARKS
    assert dotted().model == replace(MODEL, points=PointSource.DOTS)


def test_dots_take_the_place_of_the_near_side_s_landmarks() -> None:
    rows = LANDMARKS[Side.RIGHT][list(DOT_ROWS)]
    first, second, *_ = DetectedFrames(MadePictures(), dotted())
    assert np.isnan(first.points_px[rows]).all()
    assert not first.visibility[rows].any()
    assert second.points_px[rows].tolist() == [[12.5, 30.25]] * N_DOTS
    assert (second.presence[rows] == 1).all()


def test_a_recording_of_dots_says_so_and_gives_the_very_frames(tmp_path: Path) -> None:
    path = tmp_path / "made.dots.landmarks.npz"
    record_landmarks(MadePictures(), dotted(), path)
    recording = RecordedLandmarks(path)
    assert recording.model.points is PointSource.DOTS
    live = [frame for frame in DetectedFrames(MadePictures(), dotted()) if isinstance(frame, Frame)]
    assert same_frames(list(recording), live)


def test_closing_closes_the_model() -> None:
    estimator = MadeEstimator()
    DottedEstimator(estimator, MadeReader()).close()
    assert estimator.n_closed == 1
