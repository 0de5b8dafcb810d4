"""Opens what is watched: a camera or a clip through the pose model, or recorded landmarks.

Wires the concrete parts and threads together: ``capture`` reads pictures, ``pose`` finds landmarks,
and the caller's thread takes frames.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from posewatch.core.camera_watch import NEAR, NETWORK
from posewatch.core.measuring_chain import UNCALIBRATED, MeasuringChain, ViewedFrom
from posewatch.core.plane import PlaneMap, plane_map
from posewatch.core.records import NS_PER_S, Seen
from posewatch.core.sources import (
    FrameSource,
    LiveCamera,
    PictureSource,
    PoseEstimator,
    PoseModelInfo,
    StreamInfo,
)
from posewatch.errors import BadInput
from posewatch.runtime import clock
from posewatch.runtime.attended import LiveClock
from posewatch.runtime.capture_thread import CapturedPictures
from posewatch.runtime.dealing import FramesInTurn
from posewatch.runtime.live_capture import LivePictures
from posewatch.runtime.overseeing import Overseen, Oversight
from posewatch.runtime.pacing import paced
from posewatch.runtime.pose_thread import PosedFrames
from posewatch.watched_source import LOOP, Source

if TYPE_CHECKING:
    from posewatch.camera.clip import Clip
    from posewatch.pose.bundles import PoseBundle


@dataclass(slots=True)
class OpenFrames:
    """An open source of frames.

    part: the inputs asked for, n_expected frames of them (0 = not known, for progress only); with
    oversight, None = nothing came for a moment. lost: tells, once they ended, what did not come
    through and why. chain, plane: what makes its numbers. live: None = a clip or recording.
    """

    info: StreamInfo
    chain: MeasuringChain
    plane: PlaneMap | None
    part: Iterator[Seen | None]
    n_expected: int
    lost: Callable[[], Mapping[str, int]]
    live: LiveClock | None

    def seen(self) -> Iterator[Seen]:
        """Give the inputs alone."""
        return (item for item in self.part if item is not None)


@contextmanager
def open_frames(source: Source, oversight: Oversight | None = None) -> Iterator[OpenFrames]:
    """Open a source in the calling thread, and close it at the end.

    oversight: of somebody who looks on while it runs.

    Raises:
        PosewatchError: the source, its part, or the model, cannot be used.
        GaveUp: oversight.stop was set before it was open.
    """
    source.require_part()
    if source.is_recording:
        from posewatch.pose.recorded import RecordedLandmarks

        recorded = RecordedLandmarks(source.path)
        stop = threading.Event() if oversight is None else oversight.stop
        frames: Iterator[Seen] = paced(recorded, stop) if source.paced else iter(recorded)
        yield _open_part(source, recorded.info, recorded.model, frames, dict, None)
        return
    from posewatch.pose.bundles import load_bundle

    bundle = load_bundle(source.model)
    pictures = _open_live(source, oversight) if source.live else _open_clip(source)
    posed = _open_models(source, bundle, pictures, oversight)
    try:
        polled = posed.polled(None if oversight is None else oversight.poll_s)
        yield _open_part(source, posed.info, posed.model, polled, pictures.lost, pictures.live)
    finally:
        posed.close()


@dataclass(frozen=True, slots=True)
class _Pictures:
    """Open pictures, what became of those that did not come through, and the clock if live.

    now_ns: time on the pictures' clock, None = they are not paced.
    """

    source: PictureSource
    lost: Callable[[], Mapping[str, int]]
    now_ns: Callable[[], int] | None
    live: LiveClock | None


def _open_clip(source: Source) -> _Pictures:
    from posewatch.camera.clip import Clip

    clips: list[Clip] = []

    def open_clip() -> Clip:
        clips.append(Clip(source.path))
        return clips[0]

    captured = CapturedPictures(open_clip, source.paced)

    def lost() -> Mapping[str, int]:
        counts = {
            "overtaken by a newer picture": captured.n_overwritten,
            "time did not rise": clips[0].n_dropped_times,
            "missing at the end of the file": clips[0].n_missing,
        }
        return {cause: n for cause, n in counts.items() if n}

    return _Pictures(captured, lost, captured.now_ns if source.paced else None, None)


def _open_live(source: Source, oversight: Oversight | None) -> _Pictures:
    from posewatch.camera.live_camera import USUAL_MODE, CameraMode, is_address, live_opener
    from posewatch.camera.looped_clip import LoopedClip

    open_camera: Callable[[], LiveCamera]
    if source.live.startswith(LOOP):
        clip = Path(source.live.removeprefix(LOOP))
        open_camera = partial(LoopedClip, clip, clock.monotonic_ns)
    else:
        mode = CameraMode(*source.wished) if source.wished else USUAL_MODE
        open_camera = live_opener(source.live, clock.monotonic_ns, mode)
    live = LivePictures(open_camera, None if oversight is None else oversight.stop)
    limits = NETWORK if is_address(source.live) else NEAR

    def lost() -> Mapping[str, int]:
        counts = {
            "overtaken by a newer picture": live.n_overwritten,
            "time did not rise": live.n_dropped_times,
        }
        return {cause: n for cause, n in counts.items() if n}

    return _Pictures(live, lost, live.now_ns, LiveClock(live.now_ns, live.glimpse, limits))


def _open_models(
    source: Source, bundle: PoseBundle, pictures: _Pictures, oversight: Oversight | None
) -> PosedFrames | FramesInTurn:
    """Open one pose model or several over the pictures; whatever fails, the pictures are closed."""
    from posewatch.camera.dots import DotReader
    from posewatch.camera.view_watch import ViewWatch
    from posewatch.pose.detected import DetectedFrames
    from posewatch.pose.dotted import DottedEstimator
    from posewatch.pose.landmarker import Landmarker

    def open_model(share: PictureSource, looks_out: bool) -> FrameSource:
        landmarker = Landmarker(bundle)
        if source.live:
            landmarker.warm_up(share.info)
        estimator: PoseEstimator = landmarker
        if source.dots:
            estimator = DottedEstimator(estimator, DotReader())
        if oversight is not None:
            estimator = Overseen(estimator, oversight, pictures.now_ns)
        background = source.camera.background if source.camera else None
        return DetectedFrames(share, estimator, ViewWatch(background) if looks_out else None)

    give_up = None if oversight is None else oversight.stop
    try:
        if source.workers == 1:
            return PosedFrames(lambda: open_model(pictures.source, True), give_up)
        return FramesInTurn(
            pictures.source,
            [partial(open_model, looks_out=n == 0) for n in range(source.workers)],
            give_up,
        )
    except BaseException:
        pictures.source.close()
        raise


def _open_part(
    source: Source,
    info: StreamInfo,
    model: PoseModelInfo,
    items: Iterator[Seen | None],
    lost: Callable[[], Mapping[str, int]],
    live: LiveClock | None,
) -> OpenFrames:
    end_s = min(info.n_frames / info.rate_hz, source.end_ns / NS_PER_S)
    n_expected = max(0, round((end_s - source.start_s) * info.rate_hz))
    chain = _measuring_chain(source, info, model)
    plane = None if source.camera is None else plane_map(source.camera.profile)
    return OpenFrames(info, chain, plane, _part(source, items), n_expected, lost, live)


def _part(source: Source, items: Iterator[Seen | None]) -> Iterator[Seen | None]:
    for item in items:
        if item is not None and item.t_ns >= source.end_ns:
            return
        if item is None or item.t_ns >= source.start_s * NS_PER_S:
            yield item


def _measuring_chain(source: Source, info: StreamInfo, model: PoseModelInfo) -> MeasuringChain:
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
        source.workers,
        source.kit,
        view,
        model.points,
    )
