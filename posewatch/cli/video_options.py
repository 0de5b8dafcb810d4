"""The options of a video: kept only where the rider has agreed to that, in words of its own."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from posewatch.errors import BadInput

if TYPE_CHECKING:
    from posewatch.core.envelope import Target
    from posewatch.core.video_use import VideoUse
    from posewatch.watched_source import Source

VIDEO = (
    "Keep a video of every picture that is watched. Off unless given; the rider must agree to it."
)
AGREED_BY = "Code of the rider who has agreed to the video; without it you are asked."
BLUR_FACES = (
    "Blur the rider's face in the video before it is written, for good. Other people's faces are "
    "NOT found and not blurred."
)


@dataclass(frozen=True, slots=True)
class VideoAsked:
    """What was asked for on the command line. agreed_by: empty = it was not said."""

    agreed_by: str
    blur_faces: bool

    def agreed(self, rider: str, may_ask: bool) -> VideoUse:
        """Return the video that the rider has agreed to; asks where nothing was said.

        may_ask: somebody sits at the keys.

        Raises:
            BadInput: the rider has not agreed.
        """
        from posewatch.store.consent import video_agreed

        if self.agreed_by and self.agreed_by != rider:
            raise BadInput(
                f"{self.agreed_by} has agreed to a video, but the rider is {rider}.",
                "Whoever is filmed must agree: give that code with --video-agreed-by.",
            )
        if not self.agreed_by and not (may_ask and self._ask(rider)):
            raise BadInput(
                "The rider has not agreed to a video.",
                "Let the rider read what is agreed to, then give --video-agreed-by CODE; or leave "
                "--video out.",
            )
        return video_agreed(rider, datetime.now().astimezone(), self.blur_faces)

    def _ask(self, rider: str) -> bool:
        from posewatch.cli.asking import ask
        from posewatch.cli.screen import say
        from posewatch.store.consent import video_text

        say(video_text(self.blur_faces))
        return ask(f"Has {rider} agreed to this? y = yes").lower() == "y"


def video_asked(video: bool, agreed_by: str | None, blur_faces: bool) -> VideoAsked | None:
    """Return what was asked for, None = no video.

    Raises:
        BadInput: something is said of a video that is not kept.
    """
    if video:
        return VideoAsked(agreed_by or "", blur_faces)
    for option, given in (("--video-agreed-by", agreed_by), ("--blur-faces", blur_faces)):
        if given:
            raise BadInput(f"{option} is given, and no video is kept.", "Add --video.")
    return None


def agreed_video(
    asked: VideoAsked | None, target: Target | None, source: Source | None
) -> VideoUse | None:
    """Return the video of a watch that was agreed to, None = no video was asked for.

    target, source: None = set-up asks for it, and then for the video too.

    Raises:
        BadInput: the rider has not agreed, or the source has no pictures.
    """
    from posewatch.video_keeping import require_pictures

    if asked is None:
        return None
    if source is None or target is None:
        raise BadInput(
            "In set-up a video is ticked where the rider agrees.",
            "Leave --video out, or say what is watched on the command line.",
        )
    require_pictures(source)
    return asked.agreed(target.rider, at_the_keys())


def at_the_keys() -> bool:
    """Tell whether somebody can be asked."""
    return sys.stdin is not None and sys.stdin.isatty()
