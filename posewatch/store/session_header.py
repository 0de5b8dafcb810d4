"""What a session says of itself: what was known before it began, and how it ended."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from posewatch.core.envelope import Target
from posewatch.core.measuring_chain import MeasuringChain
from posewatch.core.plane import CameraProfile
from posewatch.core.sensor_use import SensorUse
from posewatch.core.sources import StreamInfo
from posewatch.core.video_use import VideoUse
from posewatch.core.watch_plan import WatchPlan


@dataclass(frozen=True, slots=True)
class SessionHeader:
    """Everything known before the first input.

    chain: the measuring chain at hand (the target carries the one that captured it). profile: the
    calibrated camera's, None = uncalibrated.
    settings_text: the settings in force, as TOML. versions: of the program, Python and the
    libraries that shape the numbers, by name. created: wall time, ISO 8601 with its offset.
    sensors: which of them gave what; none in sessions from before there were any. keep_until: date
    after which it should be deleted, ISO 8601, empty = not said. video: None = none is kept.
    """

    target: Target
    plan: WatchPlan
    chain: MeasuringChain
    profile: CameraProfile | None
    stream: StreamInfo
    settings_text: str
    versions: Mapping[str, str]
    created: str
    sensors: SensorUse = SensorUse()
    keep_until: str = ""
    video: VideoUse | None = None


class HowEnded(StrEnum):
    """Why a session came to its end; a session that was cut off has no ending at all."""

    SOURCE_ENDED = "source ended"
    STOPPED = "stopped"
    FAILED = "failed"


@dataclass(frozen=True, slots=True)
class SessionEnding:
    """How a session ended, and its totals.

    n_frames: frames the pipeline consumed. dropped: frames that were not, by cause. watched_ns:
    from the first input to the last. n_counted, counted_ns, n_intervals: confirmed strokes, their
    time, and the valid intervals they make. message: what failed, or how the
    chain differed from the target's; empty otherwise.
    """

    how: HowEnded
    n_frames: int
    watched_ns: int
    n_counted: int
    counted_ns: int
    n_intervals: int
    dropped: Mapping[str, int] = field(default_factory=dict)
    message: str = ""


@dataclass(frozen=True, slots=True)
class Anchor:
    """The wall clock read at a moment of session time; wall_ns since 1970-01-01 UTC."""

    t_ns: int
    wall_ns: int
