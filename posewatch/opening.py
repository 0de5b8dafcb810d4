"""Opens what is watched: a clip through the pose model, or recorded landmarks.

Wires the concrete parts and threads together: ``capture`` reads pictures, ``pose`` finds landmarks,
and the caller's thread takes frames.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from posewatch.core.records import NS_PER_S, Frame, MeasuringChain
from posewatch.core.sources import FrameSource
from posewatch.errors import BadInput
from posewatch.runtime.capture_thread import CapturedPictures
from posewatch.runtime.pose_thread import PosedFrames

RECORDING_SUFFIX = ".landmarks.npz"
UNCALIBRATED = "uncalibrated"


@dataclass(frozen=True, slots=True)
class Source:
    """What to read. model: lite, full or a path, None = as set. start_s, end_s: a part of it."""

    path: Path
    model: str
    paced: bool = False
    start_s: float = 0.0
    end_s: float | None = None


@dataclass(slots=True)
class OpenFrames:
    """An open source of frames.

    part: the frames asked for, n_expected of them (0 = not known, for progress only). lost: tells,
    once they ended, what did not come through and why.
    """

    frames: FrameSource
    part: Iterator[Frame]
    n_expected: int
    lost: Callable[[], Mapping[str, int]]


@contextmanager
def open_frames(source: Source) -> Iterator[OpenFrames]:
    """Open a clip or recorded landmarks in the calling thread, and close it at the end.

    Raises:
        PosewatchError: the source, its part, or the model, cannot be used.
    """
    _require_part(source)
    if source.path.name.endswith(RECORDING_SUFFIX):
        from posewatch.pose.recorded import RecordedLandmarks

        recorded = RecordedLandmarks(source.path)
        yield _open_part(recorded, source, dict)
        return
    from posewatch.camera.clip import Clip
    from posewatch.pose.bundles import load_bundle
    from posewatch.pose.detected import DetectedFrames
    from posewatch.pose.landmarker import Landmarker

    bundle = load_bundle(source.model)
    clips: list[Clip] = []

    def open_clip() -> Clip:
        clips.append(Clip(source.path))
        return clips[0]

    captured: list[CapturedPictures] = []

    def open_detected() -> FrameSource:
        captured.append(CapturedPictures(open_clip, source.paced))
        try:
            return DetectedFrames(captured[0], Landmarker(bundle))
        except BaseException:
            captured[0].close()
            raise

    def lost() -> Mapping[str, int]:
        counts = {
            "overtaken by a newer picture": captured[0].n_overwritten,
            "time did not rise": clips[0].n_dropped_times,
            "missing at the end of the file": clips[0].n_missing,
        }
        return {cause: n for cause, n in counts.items() if n}

    frames = PosedFrames(open_detected)
    try:
        yield _open_part(frames, source, lost)
    finally:
        frames.close()


def _require_part(source: Source) -> None:
    end_s = math.inf if source.end_s is None else source.end_s
    if not 0 <= source.start_s < end_s:
        raise BadInput(
            f"{source.path.name} has no part from {source.start_s:g} s to {end_s:g} s.",
            "Give a start of 0 or later, and an end after it.",
        )


def _open_part(
    frames: FrameSource, source: Source, lost: Callable[[], Mapping[str, int]]
) -> OpenFrames:
    info = frames.info
    end_s = math.inf if source.end_s is None else source.end_s
    n_expected = min(info.n_frames, end_s * info.rate_hz) - source.start_s * info.rate_hz
    return OpenFrames(frames, _part(frames, source), max(0, round(n_expected)), lost)


def _part(frames: FrameSource, source: Source) -> Iterator[Frame]:
    for frame in frames:
        if source.end_s is not None and frame.t_ns >= source.end_s * NS_PER_S:
            return
        if frame.t_ns >= source.start_s * NS_PER_S:
            yield frame


def measuring_chain(frames: FrameSource, kit: str = "") -> MeasuringChain:
    """Return the chain that makes a source's numbers."""
    info, model = frames.info, frames.model
    return MeasuringChain(
        UNCALIBRATED,
        info.width_px,
        info.height_px,
        info.rate_hz,
        model.name,
        model.sha256,
        model.library,
        1,
        kit,
    )
