"""Looks at the video of a watch that was kept: its times, and whether its pictures can be seen."""

from __future__ import annotations

import csv
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from posewatch.camera.opencv import cv2
from posewatch.camera.video_file import COLUMNS
from posewatch.core.records import NS_PER_S
from posewatch.core.video_use import FILE_NAME, TIMES_NAME
from posewatch.errors import BadInput


@dataclass(frozen=True, slots=True)
class SeenVideo:
    """What can be seen of a video: its size, and how many pictures; 0 = it cannot be opened."""

    width_px: int
    height_px: int
    n_pictures: int


def read_times(folder: Path, whole: bool) -> list[int]:
    """Return the session times of the pictures of a video in its folder, ns.

    whole: it was written to its end; otherwise the last line may be cut off, and is left out then.

    Raises:
        BadInput: the table is missing or damaged.
    """
    path = folder / TIMES_NAME
    times_ns: list[int] = []
    try:
        with path.open(encoding="utf-8", newline="") as file:
            lines = file.readlines()
    except (OSError, UnicodeDecodeError) as error:
        raise BadInput(f"{path} cannot be read ({error}).", "Restore it from a copy.") from error
    if not whole and lines and not lines[-1].endswith("\n"):
        lines.pop()
    rows = csv.reader(lines)
    try:
        if ",".join(next(rows)) != COLUMNS:
            raise ValueError("its first line is another")
        for number, (said, t_s) in enumerate(rows, 1):
            if int(said) != number:
                raise ValueError(f"picture {number} is missing")
            seconds, _, rest = t_s.partition(".")
            times_ns.append(int(seconds) * NS_PER_S + int(rest.ljust(9, "0")[:9]))
    except (ValueError, StopIteration) as error:
        cause = str(error) or "it is empty"
        raise BadInput(f"{path} is damaged ({cause}).", "Restore it from a copy.") from error
    return times_ns


def n_closed_with(folder: Path) -> int | None:
    """Return how many pictures a video says it was closed with, at a glance.

    0 = it was not closed rightly, so that the last ones may be missing; None = it does not give
    even a first picture.
    """
    capture = cv2.VideoCapture(str(folder / FILE_NAME), cv2.CAP_FFMPEG)
    try:
        if not (capture.isOpened() and capture.grab()):
            return None
        return max(0, round(capture.get(cv2.CAP_PROP_FRAME_COUNT)))
    finally:
        capture.release()


def see_all(folder: Path, on_picture: Callable[[], None] = lambda: None) -> SeenVideo:
    """Go through the pictures of a video in its folder; on_picture: called with each."""
    capture = cv2.VideoCapture(str(folder / FILE_NAME), cv2.CAP_FFMPEG)
    try:
        n = 0
        while capture.isOpened() and capture.grab():
            n += 1
            on_picture()
        width = int(capture.get(cv2.CAP_PROP_FRAME_WIDTH)) if n else 0
        height = int(capture.get(cv2.CAP_PROP_FRAME_HEIGHT)) if n else 0
        return SeenVideo(width, height, n)
    finally:
        capture.release()
