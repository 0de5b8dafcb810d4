"""The cameras of this machine, by names and ids that outlast a reboot.

A camera's number moves when another one is plugged in, so what is remembered is its stable id.
"""

from __future__ import annotations

import logging
import os
import platform
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from posewatch.camera.opencv import cv2
from posewatch.errors import BadInput

if TYPE_CHECKING:
    from cv2_enumerate_cameras import CameraInfo

logger = logging.getLogger(__name__)

#: Where Linux keeps links to its cameras: by what they are, and by where they are plugged in.
LINKS = Path("/dev/v4l")
BY_ID, BY_PLACE = "by-id", "by-path"
#: Which of OpenCV's back-ends to ask, in this order; named, since it would try others by itself.
BACKENDS = {
    "Linux": (cv2.CAP_V4L2,),
    "Windows": (cv2.CAP_MSMF, cv2.CAP_DSHOW),
    "Darwin": (cv2.CAP_AVFOUNDATION,),
}


@dataclass(frozen=True, slots=True)
class Webcam:
    """A camera of this machine.

    stable_id: stays the same over reboots and re-plugging. index, backend: what OpenCV opens it
    by now.
    """

    name: str
    stable_id: str
    index: int
    backend: int


def list_webcams(links: Path = LINKS) -> tuple[Webcam, ...]:
    """Return the cameras of this machine, in the order of their numbers; never raises.

    Nodes of a camera that give no pictures are left out.

    Args:
        links: the folder of Linux's links.
    """
    system = platform.system()
    webcams: dict[str, Webcam] = {}
    for backend in BACKENDS.get(system, ()):
        found = _enumerated(backend)
        twins = Counter(_kind(info) for info in found)
        for info in found:
            if system == "Linux":
                stable_id = _linux_id(info, links, twins[_kind(info)] > 1)
            else:
                stable_id = _id(info)
            # One camera may be in several back-ends: the first has it.
            webcams.setdefault(stable_id, Webcam(info.name, stable_id, info.index, backend))
    return tuple(webcams.values())


def find_webcam(word: str, webcams: tuple[Webcam, ...] | None = None) -> Webcam:
    """Return the camera that a word means: its stable id, its name or a part of it, its number.

    Args:
        webcams: to choose from; None = those of this machine.

    Raises:
        BadInput: there is no such camera, or several.
    """
    there = list_webcams() if webcams is None else webcams
    folded = word.casefold()
    ways = (
        [one for one in there if one.stable_id == word or _is_link(one.stable_id, word)],
        [one for one in there if one.name.casefold() == folded],
        [one for one in there if word.isdecimal() and one.index == int(word)],
        [one for one in there if folded and not word.isdecimal() and folded in one.name.casefold()],
    )
    found = next((way for way in ways if way), [])
    if len(found) == 1 or (found and word.isdecimal()):
        return found[0]
    listed = "; ".join(f"{one.index}: {one.name} ({one.stable_id})" for one in there)
    if found:
        raise BadInput(
            f"Several cameras are called {word!r}: {listed}.", "Give the id in brackets."
        )
    raise BadInput(
        f"There is no camera {word}. "
        + (f"There are {listed}." if listed else "No camera is plugged in, or none may be used."),
        "Plug it in, give a camera's name or number (from 0), and allow camera access in the "
        "system's settings.",
    )


def _enumerated(backend: int) -> list[CameraInfo]:
    """Ask the system; whatever goes wrong there, it lists no cameras."""
    try:
        from cv2_enumerate_cameras import enumerate_cameras

        return sorted(enumerate_cameras(backend), key=lambda info: info.index)
    except Exception:
        logger.warning("The cameras of this machine cannot be listed.", exc_info=True)
        return []


def _kind(info: CameraInfo) -> tuple[object, ...]:
    return info.name, info.vid, info.pid


def _linux_id(info: CameraInfo, links: Path, has_twin: bool) -> str:
    """Return the link to a device; of two alike, which share one id, where it is plugged in."""
    for kind in (BY_PLACE, BY_ID) if has_twin else (BY_ID, BY_PLACE):
        try:
            for link in sorted((links / kind).iterdir()):
                if os.path.realpath(link) == os.path.realpath(str(info.path)):
                    return str(link)
        except OSError:
            continue
    return _id(info)


def _is_link(stable_id: str, word: str) -> bool:
    """Tell whether a word is another path of Linux's to the same device."""
    return word.startswith("/") and os.path.realpath(word) == os.path.realpath(stable_id)


def _id(info: CameraInfo) -> str:
    """Return the device's path without the part that differs between back-ends, or VID:PID."""
    if info.path:
        return info.path.partition("#{")[0]
    if info.vid is not None and info.pid is not None:
        return f"{info.vid:04x}:{info.pid:04x}"
    return info.name
