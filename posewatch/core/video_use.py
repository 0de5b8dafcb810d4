"""The video of a watch: who agreed to it, and what is said of it while it is kept."""

from __future__ import annotations

from dataclasses import dataclass

from posewatch.core.records import VIDEO, SourceCondition, SourceState

#: In the session's folder.
FOLDER = "video"
#: Matroska: what was written of it can be seen after a kill, which an MP4 file cannot.
FILE_NAME = "video.mkv"
TIMES_NAME = "times.csv"


@dataclass(frozen=True, slots=True)
class VideoUse:
    """That a video is kept.

    agreed: the line that says who agreed to which text, and when. blur_faces: the rider's face is
    made unrecognisable before anything is written.
    """

    agreed: str
    blur_faces: bool

    @property
    def words(self) -> str:
        """Say what is done to faces."""
        return "faces blurred" if self.blur_faces else "faces NOT blurred"


def begun_told(t_ns: int, use: VideoUse) -> SourceState:
    """Return what is logged and told when the first picture can be kept."""
    text = f"Video is being kept, {use.words}."
    return SourceState(t_ns, VIDEO, SourceCondition.RUNNING, text)


def left_out_told(t_ns: int) -> SourceState:
    """Return what is logged and told when the first picture was left out."""
    return SourceState(
        t_ns,
        VIDEO,
        SourceCondition.SLOW,
        "Pictures are left out of the video, since they come faster than they can be written; the "
        "watch itself misses nothing.",
    )


def failed_told(t_ns: int, why: str) -> SourceState:
    """Return what is logged and told when no more of the video can be kept. why: a sentence."""
    text = f"The video ended here: {why} The watch goes on."
    return SourceState(t_ns, VIDEO, SourceCondition.LOST, text)


def full_told(t_ns: int, free_bytes: int) -> SourceState:
    """Return what is logged and told when the video is ended for want of room."""
    text = (
        f"The video ended here: only {free_bytes / 1e6:.0f} MB are left on its drive, and the "
        "record needs them. The watch goes on."
    )
    return SourceState(t_ns, VIDEO, SourceCondition.FULL, text)
