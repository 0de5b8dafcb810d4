"""The small interfaces behind which cameras, clips and recordings sit.

A recording is a source like any other: nothing downstream knows whether a frame is live.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from posewatch.core.measuring_chain import PointSource
from posewatch.core.records import FloatArray, Frame, Seen, SourceState

#: (height, width, 3) uint8, RGB, contiguous.
Picture = NDArray[np.uint8]


@dataclass(frozen=True, slots=True)
class StreamInfo:
    """What a source says of its pictures.

    rate_hz: the usual rate, from the times of the pictures (1 / median step), never from a header.
    n_frames: how many are expected, 0 = not known (for progress only).
    """

    name: str
    width_px: int
    height_px: int
    rate_hz: float
    n_frames: int


@dataclass(frozen=True, slots=True, eq=False)
class TimedPicture:
    """One picture and its time; t_ns rises from picture to picture, the first is 0."""

    t_ns: int
    rgb: Picture


class LiveCamera(Protocol):
    """A camera or stream that is open; opened, read and closed by one thread.

    info: the size as read back; rate_hz is what was asked or declared, and may be fiction.
    """

    info: StreamInfo

    def read(self) -> TimedPicture | None:
        """Wait for a picture, stamped with the monotonic clock after the grab; None = none came."""
        ...

    def close(self) -> None: ...


class PictureSource(Protocol):
    """Gives pictures in the order of their times; closing twice is harmless."""

    info: StreamInfo

    def __iter__(self) -> Iterator[TimedPicture]: ...

    def close(self) -> None: ...


@dataclass(frozen=True, slots=True)
class PoseModelInfo:
    """Which model made the landmarks: its name (lite, full, heavy), SHA-256 and library version.

    points: whether the near side's joints are its landmarks, or were put where sticker dots are.
    """

    name: str
    sha256: str
    library: str
    points: PointSource = PointSource.LANDMARKS


class FrameSource(Protocol):
    """Gives frames of landmarks in the order of their times; closing twice is harmless.

    Between them it may say that the camera's view has moved, before the picture that told it.
    """

    info: StreamInfo
    model: PoseModelInfo

    def __iter__(self) -> Iterator[Seen]: ...

    def close(self) -> None: ...


class Lookout(Protocol):
    """Looks at each picture besides the pose model, for what tells that the camera has moved."""

    def look_at(
        self, t_ns: int, picture: Picture, landmarks_px: FloatArray
    ) -> tuple[SourceState, ...]: ...


class PoseEstimator(Protocol):
    """Turns pictures into frames of landmarks. One owner thread; times must rise."""

    model: PoseModelInfo

    def detect(self, picture: TimedPicture) -> Frame: ...

    def close(self) -> None: ...
