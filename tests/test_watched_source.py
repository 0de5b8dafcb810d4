"""What a word on the command line or in set-up means."""

from __future__ import annotations

from pathlib import Path

import pytest

from posewatch.errors import BadInput
from posewatch.watched_source import Source, find_source


def test_an_existing_file_is_a_file_whatever_it_is_called(tmp_path: Path) -> None:
    path = tmp_path / "0"
    path.touch()
    assert find_source(str(path)) == (path, "")


@pytest.mark.parametrize(
    "word",
    [
        "0",
        "Desk camera",
        "Cam v2.0",
        "http://127.0.0.1:8080/video",
        "rtsp://phone.local/live",
        "/dev/video0",
        "/dev/v4l/by-id/usb-desk-index0",
        "loop:clips/hoods.mp4",
    ],
)
def test_a_camera_a_stream_and_a_rehearsal_are_live(word: str) -> None:
    assert find_source(word) == (Path(), word)


@pytest.mark.parametrize("word", ["gone.mp4", "clips/gone", "gone.landmarks.npz"])
def test_what_looks_like_a_file_is_a_missing_one(word: str) -> None:
    assert find_source(word) == (Path(word), "")


def test_a_recording_is_told_from_a_clip_and_a_camera() -> None:
    assert Source(Path("a.landmarks.npz"), "full").is_recording
    assert not Source(Path("a.mp4"), "full").is_recording
    live = Source(Path(), "full", live="rtsp://x/a.landmarks.npz")
    assert not live.is_recording
    assert live.name == "rtsp://x/a.landmarks.npz"


@pytest.mark.parametrize(("start_s", "end_s"), [(-1.0, None), (5.0, 5.0), (5.0, 4.0)])
def test_a_part_that_cannot_be_is_refused(start_s: float, end_s: float | None) -> None:
    with pytest.raises(BadInput, match=r"a\.mp4 has no part"):
        Source(Path("a.mp4"), "full", start_s=start_s, end_s=end_s).require_part()
