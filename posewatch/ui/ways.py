"""What each wording of a correction looks like: which part of the body goes which way. Without Qt.

One table, keyed by the words of ``core.cues``, so that word and picture cannot disagree.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from posewatch.core.cues import LiveChannel, correction
from posewatch.core.outputs import Reason
from posewatch.core.records import Channel
from posewatch.trials.words import RitualMoment


class Part(StrEnum):
    """Where on the mark a correction points."""

    BACK = "back"
    SEAT = "seat"
    HANDS = "hands"
    FOOT = "foot"
    EFFORT = "effort"


@dataclass(frozen=True, slots=True)
class Way:
    """One direction: along = 1 forwards in the direction of travel, up = 1 upwards, tilt = 1 the
    front goes down; all 0 = hold still. The mark is displaced the opposite way.
    """

    part: Part
    along: int = 0
    up: int = 0
    tilt: int = 0


WAYS = {
    "lower, bend elbows": Way(Part.BACK, up=-1),
    "taller, straighten arms": Way(Part.BACK, up=1),
    "heels lower": Way(Part.FOOT, up=-1),
    "heels higher": Way(Part.FOOT, up=1),
    "tip pelvis forward": Way(Part.BACK, tilt=1),
    "tip pelvis back": Way(Part.BACK, tilt=-1),
    "sit back": Way(Part.SEAT, along=-1),
    "sit forward": Way(Part.SEAT, along=1),
    "sit down firmly": Way(Part.SEAT, up=-1),
    "sit lightly": Way(Part.SEAT, up=1),
    "hands back": Way(Part.HANDS, along=-1),
    "hands forward": Way(Part.HANDS, along=1),
    "hands lower": Way(Part.HANDS, up=-1),
    "hands higher": Way(Part.HANDS, up=1),
    "ease off": Way(Part.EFFORT, along=-1),
    "push harder": Way(Part.EFFORT, along=1),
    "spin slower": Way(Part.EFFORT, along=-1),
    "spin faster": Way(Part.EFFORT, along=1),
    "ride more quietly": Way(Part.BACK),
}

SIT_DOWN = "sit down"
#: What goes on, most telling first: without a camera nothing else is known. With what is said of
#: it, and whether that is the camera's matter and not the rider's.
WAITING = {
    Reason.CAMERA: ("camera: no picture", True),
    Reason.VIEW_MOVED: ("camera: it has moved", True),
    Reason.NOT_SEEN: ("camera: you are not seen", True),
    Reason.OUT_OF_SADDLE: (SIT_DOWN, False),
    Reason.HAND_OFF: ("hands on the bar", False),
    Reason.BACK_PEDALLED: ("pedal forwards", False),
    Reason.COASTED: ("pedal on", False),
}
#: Why a value is not known; whatever is not listed is the camera's.
UNKNOWN = {
    Reason.NOT_TURNING: "pedal on",
    Reason.TOO_SLOW: "pedal faster",
    Reason.NO_EFFORT: "sensor: no reading",
}
UNKNOWN_OTHERWISE = "camera: not clear"

#: The steps of the reset at the beginning of a trial.
RESET = {
    RitualMoment.COAST: "coast",
    RitualMoment.STAND: "stand",
    RitualMoment.SIT: "sit",
    RitualMoment.HANDS_ON: "hands on",
    RitualMoment.PEDAL: "pedal",
}

#: What else the window says. Beyond these and the tables above it says nothing.
CLOSED, OPEN, GETTING_READY, KEEP_RIDING = (
    "camera closed",
    "camera open",
    "getting ready",
    "keep riding",
)
REST, PAUSE, WAIT, SETTLE = "rest", "pause", "waiting", "settle in"
STEADY, IN_POSITION, REACHED = "steady", "in position", "goal reached"
ALL_WORDS = (
    *WAYS,
    *(words for words, _ in WAITING.values()),
    *UNKNOWN.values(),
    *RESET.values(),
    *(UNKNOWN_OTHERWISE, CLOSED, OPEN, GETTING_READY, KEEP_RIDING, REST, PAUSE, WAIT, SETTLE),
    *(STEADY, IN_POSITION, REACHED),
)


def way_back(now: LiveChannel) -> Way:
    """Return the way that leads a channel back to its centre."""
    return WAYS[correction(now.value)]


def off_along(now: LiveChannel, way: Way) -> float:
    """Return how far a channel is off against a way, in tolerances; 0 = not off that way."""
    value = now.value
    if value.channel is Channel.HAND_PLACE:
        return max(0.0, -(value.along * way.along + value.up * way.up) / now.tol)
    if value.restless or way_back(now) != way:
        return 0.0
    return abs(value.deviation) / now.tol
