"""Landmarks, pictures and a pose model that need no picture of a person."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from posewatch.core.landmark_codec import StoredLandmarks, decode, nobody
from posewatch.core.records import N_LANDMARKS, Frame
from posewatch.core.sources import PoseModelInfo, StreamInfo, TimedPicture

MODEL = PoseModelInfo("made", "0" * 64, "none 1.0")
TIMES_NS = (0, 33_333_333, 66_666_667, 166_666_667, 200_000_000)
INFO = StreamInfo("made", 64, 48, 30.0, len(TIMES_NS))


def landmarks(seed: int) -> StoredLandmarks:
    """Any stored landmarks, the most extreme values among them."""
    rng = np.random.default_rng(seed)
    return StoredLandmarks(
        rng.integers(-32768, 32768, (N_LANDMARKS, 2)).astype(np.int16),
        rng.integers(0, 256, N_LANDMARKS).astype(np.uint8),
        rng.integers(0, 256, N_LANDMARKS).astype(np.uint8),
    )


class MadePictures:
    """A picture source whose pictures carry their number in the first pixel."""

    def __init__(self, times_ns: tuple[int, ...] = TIMES_NS) -> None:
        self.info = INFO
        self.n_closed = 0
        self._times_ns = times_ns

    def __iter__(self) -> Iterator[TimedPicture]:
        for number, t_ns in enumerate(self._times_ns):
            rgb = np.zeros((INFO.height_px, INFO.width_px, 3), np.uint8)
            rgb[0, 0, 0] = number
            yield TimedPicture(t_ns, rgb)

    def close(self) -> None:
        self.n_closed += 1


class MadeEstimator:
    """Finds in each picture the landmarks of its number, and nobody in the third."""

    def __init__(self) -> None:
        self.model = MODEL
        self.n_closed = 0

    def detect_stored(self, picture: TimedPicture) -> StoredLandmarks:
        number = int(picture.rgb[0, 0, 0])
        return nobody() if number == 2 else landmarks(number)

    def detect(self, picture: TimedPicture) -> Frame:
        return decode(picture.t_ns, self.detect_stored(picture))

    def close(self) -> None:
        self.n_closed += 1


def same_frames(one: list[Frame], other: list[Frame]) -> bool:
    """Whether two runs gave the very same frames."""
    return len(one) == len(other) and all(
        a.t_ns == b.t_ns
        and np.array_equal(a.points_px, b.points_px, equal_nan=True)
        and np.array_equal(a.visibility, b.visibility)
        and np.array_equal(a.presence, b.presence)
        for a, b in zip(one, other, strict=True)
    )
