"""Recording the landmarks of a stream of pictures."""

from __future__ import annotations

from pathlib import Path

import pytest
from made_landmarks import INFO, MODEL, TIMES_NS, MadeEstimator, MadePictures

from posewatch.core.landmark_codec import StoredLandmarks
from posewatch.core.sources import TimedPicture
from posewatch.errors import BadInput
from posewatch.pose.recorded import RecordedFrom, RecordedLandmarks
from posewatch.pose.recording import record_landmarks


def test_a_recording_says_what_it_was_made_from(tmp_path: Path) -> None:
    path = tmp_path / "made.landmarks.npz"
    assert record_landmarks(MadePictures(), MadeEstimator(), path, "ab" * 32) == len(TIMES_NS)
    recording = RecordedLandmarks(path)
    assert recording.info == INFO
    assert recording.model == MODEL
    assert recording.source == RecordedFrom("made", "ab" * 32)
    assert len(recording) == len(TIMES_NS)


def test_progress_is_told_after_each_picture(tmp_path: Path) -> None:
    told: list[tuple[int, int]] = []
    record_landmarks(
        MadePictures(),
        MadeEstimator(),
        tmp_path / "made.landmarks.npz",
        progress=lambda done, expected: told.append((done, expected)),
    )
    assert told == [(done, len(TIMES_NS)) for done in range(1, len(TIMES_NS) + 1)]


def test_no_picture_is_an_error_and_leaves_no_file(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="no picture"):
        record_landmarks(MadePictures(()), MadeEstimator(), tmp_path / "made.landmarks.npz")
    assert list(tmp_path.iterdir()) == []


def test_a_failure_midway_leaves_the_old_file(tmp_path: Path) -> None:
    class Failing(MadeEstimator):
        def detect_stored(self, picture: TimedPicture) -> StoredLandmarks:
            if picture.t_ns > 0:
                raise RuntimeError("broken")
            return super().detect_stored(picture)

    path = tmp_path / "made.landmarks.npz"
    record_landmarks(MadePictures(), MadeEstimator(), path)
    before = path.read_bytes()
    with pytest.raises(RuntimeError, match="broken"):
        record_landmarks(MadePictures(), Failing(), path)
    assert path.read_bytes() == before
    assert list(tmp_path.iterdir()) == [path]
