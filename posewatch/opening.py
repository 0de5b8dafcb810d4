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

from posewatch.core.measuring_chain import UNCALIBRATED, MeasuringChain, ViewedFrom
from posewatch.core.plane import CameraProfile, PlaneMap, plane_map
from posewatch.core.records import NS_PER_S, Seen
from posewatch.core.sources import FrameSource, PoseEstimator
from posewatch.core.view_motion import Background
from posewatch.errors import BadInput
from posewatch.runtime.capture_thread import CapturedPictures
from posewatch.runtime.pose_thread import PosedFrames

RECORDING_SUFFIX = ".landmarks.npz"


@dataclass(frozen=True, slots=True)
class Camera:
    """A calibrated camera as it was set up.

    background: by which a moved camera is told; None = that of a watch's first second.
    """

    profile: CameraProfile
    background: Background | None


def find_camera(path_or_name: str | Path, data_folder: Path) -> Camera:
    """Return a camera by its name, NAME/vN, or its profile's file.

    Raises:
        BadInput: there is no such camera, or its files cannot be used.
    """
    from posewatch.store.background_file import read_background
    from posewatch.store.camera_profile_file import read_profile_file
    from posewatch.store.camera_shelf import background_path, find_profile

    path = find_profile(path_or_name, data_folder)
    beside = background_path(path)
    background = read_background(beside) if beside.exists() else None
    return Camera(read_profile_file(path).profile, background)


@dataclass(frozen=True, slots=True)
class Source:
    """What to read, and what it was seen with.

    model: lite, full or a path. start_s, end_s: a part of it. camera: None = uncalibrated. kit:
    what the rider wears. dots: the rider wears sticker dots, which are read instead of landmarks (a
    recording says itself whether it is of dots).
    """

    path: Path
    model: str
    paced: bool = False
    start_s: float = 0.0
    end_s: float | None = None
    camera: Camera | None = None
    kit: str = ""
    dots: bool = False


@dataclass(slots=True)
class OpenFrames:
    """An open source of frames.

    part: the inputs asked for, n_expected frames of them (0 = not known, for progress only). lost:
    tells, once they ended, what did not come through and why. chain, plane: what makes its numbers.
    """

    frames: FrameSource
    chain: MeasuringChain
    plane: PlaneMap | None
    part: Iterator[Seen]
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
    from posewatch.camera.dots import DotReader
    from posewatch.camera.view_watch import ViewWatch
    from posewatch.pose.bundles import load_bundle
    from posewatch.pose.detected import DetectedFrames
    from posewatch.pose.dotted import DottedEstimator
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
            lookout = ViewWatch(source.camera.background if source.camera else None)
            estimator: PoseEstimator = Landmarker(bundle)
            if source.dots:
                estimator = DottedEstimator(estimator, DotReader())
            return DetectedFrames(captured[0], estimator, lookout)
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
    chain = _measuring_chain(frames, source)
    plane = None if source.camera is None else plane_map(source.camera.profile)
    part = _part(frames, source)
    return OpenFrames(frames, chain, plane, part, max(0, round(n_expected)), lost)


def _part(frames: FrameSource, source: Source) -> Iterator[Seen]:
    for item in frames:
        if source.end_s is not None and item.t_ns >= source.end_s * NS_PER_S:
            return
        if item.t_ns >= source.start_s * NS_PER_S:
            yield item


def _measuring_chain(frames: FrameSource, source: Source) -> MeasuringChain:
    info, model = frames.info, frames.model
    name, view = UNCALIBRATED, None
    if source.camera is not None:
        profile = source.camera.profile
        name = profile.fingerprint()
        lens, seen = profile.lens, profile.view
        if (lens.width_px, lens.height_px) != (info.width_px, info.height_px):
            raise BadInput(
                f"The camera profile is of pictures of {lens.width_px} x {lens.height_px}; "
                f"{info.name} has {info.width_px} x {info.height_px}.",
                "Use the camera in the mode it was calibrated in, or calibrate it in this one.",
            )
        view = ViewedFrom(lens.fingerprint(), seen.yaw_deg, seen.pitch_deg, seen.distance_mm)
    return MeasuringChain(
        name,
        info.width_px,
        info.height_px,
        info.rate_hz,
        model.name,
        model.sha256,
        model.library,
        1,
        source.kit,
        view,
        model.points,
    )
