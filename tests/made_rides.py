"""Rides of the linkage rider as recorded landmarks, and as what a model finds in any pictures."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
from linkage_rider import HEIGHT_PX, WIDTH_PX, Pose, to_frame

from posewatch.core.landmark_codec import encode
from posewatch.core.records import Frame
from posewatch.core.sources import PoseModelInfo, StreamInfo, TimedPicture
from posewatch.pose.bundles import PoseBundle
from posewatch.pose.recorded import RecordedFrom, write_recording

MODEL = PoseModelInfo("full", "0" * 64, "none")


def pedalling(t_s: float) -> Pose:
    """Even pedalling at 90 rpm."""
    return Pose(540.0 * t_s)


def standing_still(t_s: float) -> Pose:
    """A rider whose cranks do not turn."""
    return Pose(90.0)


def write_ride(path: Path, frames: Iterable[Frame], rate_hz: float = 30.0) -> Path:
    """Write frames, the first at time 0, as recorded landmarks."""
    kept = list(frames)
    info = StreamInfo(path.name, WIDTH_PX, HEIGHT_PX, rate_hz, len(kept))
    stored = [encode(f.points_px, f.visibility, f.presence) for f in kept]
    write_recording(path, info, MODEL, RecordedFrom("", ""), [f.t_ns for f in kept], stored)
    return path


def find_rider(patch: pytest.MonkeyPatch, pose_at: Callable[[float], Pose] = pedalling) -> None:
    """Let the pose model find, in whatever pictures, the rider as posed at each picture's time."""

    class Finder:
        def __init__(self, bundle: PoseBundle) -> None:
            self.model = bundle.model
            self._random = np.random.default_rng(1)

        def detect(self, picture: TimedPicture) -> Frame:
            return to_frame(picture.t_ns, pose_at(picture.t_ns / 1e9), 1.0, self._random)

        def close(self) -> None:
            pass

    module = ModuleType("posewatch.pose.landmarker")
    module.Landmarker = Finder  # type: ignore[attr-defined]
    patch.setitem(sys.modules, "posewatch.pose.landmarker", module)
