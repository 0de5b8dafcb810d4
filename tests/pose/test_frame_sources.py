"""What every source of frames promises."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from made_landmarks import MadeEstimator, MadePictures, same_frames

from posewatch.core.records import N_LANDMARKS
from posewatch.core.sources import FrameSource
from posewatch.pose.detected import DetectedFrames
from posewatch.pose.recorded import RecordedLandmarks
from posewatch.pose.recording import record_landmarks

MakeSource = Callable[[], FrameSource]


@pytest.fixture(params=["detected", "recorded"])
def make(request: pytest.FixtureRequest, tmp_path: Path) -> MakeSource:
    if request.param == "detected":
        return lambda: DetectedFrames(MadePictures(), MadeEstimator())
    path = tmp_path / "made.landmarks.npz"
    record_landmarks(MadePictures(), MadeEstimator(), path)
    return lambda: RecordedLandmarks(path)


def test_times_begin_at_zero_and_rise(make: MakeSource) -> None:
    times = [frame.t_ns for frame in make()]
    assert times[0] == 0
    assert all(type(t_ns) is int for t_ns in times)
    assert all(later > earlier for earlier, later in pairwise(times))


def test_info_and_model_are_well_formed(make: MakeSource) -> None:
    source = make()
    assert source.info.name
    assert source.info.width_px > 0
    assert source.info.height_px > 0
    assert source.info.rate_hz > 0
    assert source.info.n_frames == len(list(source))
    assert len(source.model.sha256) == 64
    assert source.model.name
    assert source.model.library


def test_frames_have_the_promised_shapes(make: MakeSource) -> None:
    for number, frame in enumerate(make()):
        assert frame.points_px.shape == (N_LANDMARKS, 2)
        assert frame.visibility.shape == frame.presence.shape == (N_LANDMARKS,)
        for values in (frame.points_px, frame.visibility, frame.presence):
            assert values.dtype == np.float64
        assert np.all((frame.visibility >= 0) & (frame.visibility <= 1))
        assert np.all(np.isnan(frame.points_px)) == (number == 2)


def test_every_source_of_the_same_pictures_gives_the_same_frames(make: MakeSource) -> None:
    expected = [MadeEstimator().detect(picture) for picture in MadePictures()]
    assert same_frames(list(make()), expected)


def test_closing_twice_is_harmless(make: MakeSource) -> None:
    source = make()
    next(iter(source))
    source.close()
    source.close()


def test_detected_frames_close_what_they_own() -> None:
    pictures, estimator = MadePictures(), MadeEstimator()
    DetectedFrames(pictures, estimator).close()
    assert (pictures.n_closed, estimator.n_closed) == (1, 1)


def test_detected_frames_close_the_model_even_if_the_pictures_fail() -> None:
    class Stuck(MadePictures):
        def close(self) -> None:
            raise OSError("stuck")

    estimator = MadeEstimator()
    with pytest.raises(OSError, match="stuck"):
        DetectedFrames(Stuck(), estimator).close()
    assert estimator.n_closed == 1


def test_a_closed_recording_gives_no_frames(tmp_path: Path) -> None:
    path = tmp_path / "made.landmarks.npz"
    record_landmarks(MadePictures(), MadeEstimator(), path)
    source = RecordedLandmarks(path)
    source.close()
    with pytest.raises(RuntimeError, match="closed"):
        next(iter(source))
