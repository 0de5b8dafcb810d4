"""Keeps open what set-up wants to look at, and closes it before something else begins. Without Qt.

A job ends in its own time, so wishes are followed from poll to poll.
"""

from __future__ import annotations

from collections.abc import Callable

from posewatch.runtime.engine import EngineState
from posewatch.studio import Doing, Studio
from posewatch.ui.scene import Scene
from posewatch.ui.setup_view import Setup
from posewatch.watched_source import Source


class Viewfinder:
    """The preview of one studio. ended: it ended without being asked to."""

    def __init__(self, studio: Studio) -> None:
        self._studio = studio
        self._wanted: Source | None = None
        self._opened: Source | None = None
        self._then: Callable[[], None] | None = None
        self.ended = False

    @property
    def is_wanted(self) -> bool:
        """Whether something is to be looked at, be it open already or not."""
        return self._wanted is not None

    def open(self, source: Source) -> None:
        """Look at a source as soon as the one before is closed."""
        self._wanted, self._then, self.ended = source, None, False

    def close(self, then: Callable[[], None] | None = None) -> None:
        """Close the camera; ``then`` is called once, when it is closed."""
        self._wanted, self._then, self.ended = None, then, False

    def follow(self, doing: Doing) -> None:
        """Do the next thing towards what is wanted; call it at every poll."""
        if doing is Doing.PREVIEW:
            if self._opened is not None and self._opened is not self._wanted:
                self._studio.end()
        elif doing is not Doing.NOTHING:  # others are at work, with the camera
            self._wanted = self._opened = self._then = None
        elif self._wanted is None:
            self._opened = None
            if self._then is not None:
                then, self._then = self._then, None
                then()
        elif self._wanted is self._opened:
            self._wanted = self._opened = None
            self.ended = True
        else:
            self._opened = self._wanted
            self._studio.choose(source=self._wanted)
            self._studio.look()


def camera_words(scene: Scene, setup: Setup, is_wanted: bool, key: str) -> tuple[str, str]:
    """Return what stands where the picture would be, and under it. key: opens and closes it."""
    name = "the camera" if setup.camera is None else setup.camera.name
    closes = f"{key} closes it"
    if scene.doing is Doing.PREVIEW and scene.state is EngineState.RUNNING:
        if scene.shown is None:
            return f"no pictures from {name} yet", closes
        picture = scene.shown.picture
        size = "landmarks only"
        if picture is not None:
            height_px, width_px = picture.rgb.shape[:2]
            size = f"{width_px} x {height_px} px"
        rate = f"{scene.health.rate_hz:.0f} pictures a second handled"
        return "", f"{name}: {size}, {rate}; {closes}"
    if scene.doing in (Doing.WATCH, Doing.CAPTURE):
        return f"{name} is at work: {scene.doing}", ""
    if is_wanted or scene.state is EngineState.STARTING:
        return f"opening {name}\nsome cameras take up to a minute", closes
    if setup.camera is None:
        return "the camera is closed\nchoose one to look at", ""
    if not setup.consent_of:
        return "the camera is closed\nit opens once the rider has agreed (step 1)", ""
    return f"the camera is closed\n{key} opens {name}", ""
