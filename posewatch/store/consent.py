"""What everybody should know before riding, and what a rider agrees to. Text only.

The text of the consent has a version: another text is another version, and the log of every session
says which one was agreed to.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from posewatch.core.video_use import VideoUse

CONSENT_VERSION = 3
#: Of the sentences about a video, which are agreed to by themselves.
VIDEO_VERSION = 1

CAUTIONS_TITLE = "Before you ride"
CAUTIONS = (
    "Ride only on a bike that is fixed in its trainer; check axle clamp and saddle bolt first.",
    "Stop at pain, numbness, dizziness or chest discomfort. No cue is worth holding through it.",
    "This is no medical advice. Bike fitting and exercise testing belong to qualified people and "
    "to the rules of your place.",
    "Whoever is filmed must have agreed. No picture is kept unless that was agreed to as well, and "
    "nothing leaves this machine.",
)


@dataclass(frozen=True, slots=True)
class Article:
    """One thing that is agreed to: a few words, and a sentence or two."""

    title: str
    text: str


def consent_text(data_folder: Path) -> tuple[Article, ...]:
    """Return what the rider agrees to; data_folder is where sessions are kept."""
    return (
        Article(
            "What is recorded",
            "Points of your body in the picture (landmarks), angles, strokes, cues and times, "
            "under a code instead of your name.",
        ),
        Article(
            "No video",
            "Pictures are looked at and forgotten. Video is off; it is kept only if you agree to "
            "that too, in words of its own.",
        ),
        Article(
            "Where it is kept",
            f"On this machine, in {data_folder / 'sessions'}; your fitted positions in "
            f"{data_folder / 'targets'}.",
        ),
        Article("Who gets it", "Nobody: nothing leaves this machine by itself."),
        Article(
            "How it is deleted",
            "A session is one folder. `posewatch session delete` removes it and all that was "
            "exported from it, and says which files; deleting the folder by hand leaves the "
            "exports. You may ask for that at any time, without giving a reason.",
        ),
        Article(
            "Who may be filmed",
            "You, and only after agreeing beforehand. Whoever else is in the picture must agree "
            "too, or leave it. You may stop at any time; one key closes the camera.",
        ),
    )


def consent_mark(rider: str, given: datetime) -> str:
    """Return the line that is logged when a rider agreed.

    rider: the code. given: wall time with its zone.
    """
    return f"consent v{CONSENT_VERSION} given by {rider} {given.isoformat(timespec='seconds')}"


def video_text(blur_faces: bool) -> str:
    """Return what is agreed to where a video is kept."""
    face = (
        "Your head is turned into coarse blocks before anything is written; where it is not found, "
        "the whole picture is. Your body and clothes can be recognised all the same, and other "
        "people's faces are not hidden."
        if blur_faces
        else "Your face can be recognised in it."
    )
    return (
        "A video of you is kept: every picture that is watched, with its time, in the session's "
        f"folder on this machine, for as long as the session. {face} It may show what is on the "
        "bike. You may take this back at any time: `posewatch session delete --video` deletes the "
        "video alone."
    )


def video_mark(who: str, given: datetime, blur_faces: bool) -> str:
    """Return the line that is logged when somebody agreed that a video of them is kept.

    who: the code. given: wall time with its zone.
    """
    faces = "blurred" if blur_faces else "not blurred"
    when = given.isoformat(timespec="seconds")
    return f"video v{VIDEO_VERSION} agreed to by {who} {when}, faces {faces}"


def video_agreed(who: str, given: datetime, blur_faces: bool) -> VideoUse:
    """Return the video that somebody agreed to; arguments as of :func:`video_mark`."""
    return VideoUse(video_mark(who, given, blur_faces), blur_faces)
