"""What is to be watched, and through which camera: chosen, not yet opened."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

from posewatch.core.plane import CameraProfile
from posewatch.core.records import NS_PER_S
from posewatch.core.view_motion import Background
from posewatch.errors import BadInput

RECORDING_SUFFIX = ".landmarks.npz"
#: Before a clip's path: the clip again and again, as if it were a camera.
LOOP = "loop:"


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

    path: of a clip or of recorded landmarks. model: lite, full or a path. paced: at its own pace,
    else as fast as it goes. start_s, end_s: a part of it. camera: None = uncalibrated. kit: what
    the rider wears. dots: the rider wears sticker dots, which are read instead of landmarks (a
    recording says itself whether it is of dots). live: a camera or stream, instead of a path.
    workers: pose models that take pictures in turn; another number is another measuring chain.
    wished: width and height in px and rate in Hz to ask a webcam for, None = the usual.
    """

    path: Path
    model: str
    paced: bool = False
    start_s: float = 0.0
    end_s: float | None = None
    camera: Camera | None = None
    kit: str = ""
    dots: bool = False
    live: str = ""
    workers: int = 1
    wished: tuple[int, int, float] | None = None

    @property
    def name(self) -> str:
        """What it is called in messages."""
        return self.live or self.path.name

    @property
    def is_recording(self) -> bool:
        """Whether it is recorded landmarks: no picture is seen, no model runs."""
        return not self.live and self.path.name.endswith(RECORDING_SUFFIX)

    @property
    def end_ns(self) -> float:
        """The end of its part, infinite where it has none."""
        return math.inf if self.end_s is None else self.end_s * NS_PER_S

    def require_part(self) -> None:
        """Refuse a part that cannot be.

        Raises:
            BadInput: it begins before 0, or ends before it begins.
        """
        end_s = math.inf if self.end_s is None else self.end_s
        if not 0 <= self.start_s < end_s:
            raise BadInput(
                f"{self.name} has no part from {self.start_s:g} s to {end_s:g} s.",
                "Give a start of 0 or later, and an end after it.",
            )


def find_source(word: str) -> tuple[Path, str]:
    """Return the path that a word names, or the camera or stream; the other one is empty.

    An existing file is a file; an address is a stream; LOOP and a clip is a rehearsal; what looks
    like a file's name is one that is
    missing; the rest names a camera, by its number or its name.
    """
    path = Path(word)
    if path.is_file():
        return path, ""
    if "://" in word or word.startswith((LOOP, "/dev/")):
        return Path(), word
    looks_like_a_file = path.suffix[1:2].isalpha() or len(path.parts) > 1
    return (path, "") if looks_like_a_file else (Path(), word)
