"""Keeps open what set-up wants to look at, and closes it before something else begins. Without Qt.

A job ends in its own time, so wishes are followed from poll to poll.
"""

from __future__ import annotations

from collections.abc import Callable

from posewatch.studio import Doing, Studio
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
