"""What goes into the pipeline, and the words shared by all of it.

Inputs are logged with a sequence number in the order they were consumed; feeding them again in
that order gives the same valid intervals.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from posewatch.core.sensor_records import Packet

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

N_LANDMARKS = 33
NS_PER_S = 1_000_000_000

#: Stored in every file that holds angles, so that no reader has to guess.
CONVENTION = (
    "degrees; knee flexion, 0 = straight; hip included, torso to thigh; torso above horizontal; "
    "crank 0 = camera-side crank at top, 90 = forward, rising in the drive direction"
)


class Side(StrEnum):
    """The rider's side that faces the camera."""

    LEFT = "left"
    RIGHT = "right"


class Channel(StrEnum):
    """One held quantity."""

    TORSO = "torso"
    KNEE = "knee"
    HIP = "hip"
    SITTING_PLACE = "sitting place"
    PELVIS_HEIGHT = "pelvis height"
    HAND_PLACE = "hand place"
    POWER = "power"
    CADENCE = "cadence"


#: Channels read from the camera, in the order of a target's envelopes.
BODY_CHANNELS = (
    Channel.TORSO,
    Channel.KNEE,
    Channel.HIP,
    Channel.SITTING_PLACE,
    Channel.PELVIS_HEIGHT,
    Channel.HAND_PLACE,
)
EFFORT_CHANNELS = (Channel.POWER, Channel.CADENCE)


class Verdict(StrEnum):
    """What one stroke, or one channel of it, is worth. Unknown never counts."""

    GOOD = "good"
    OUT = "out"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True, eq=False)
class Frame:
    """Landmarks of one picture, as decoded from their stored form.

    points_px: (33, 2) float64, image px, x right, y down; NaN where nobody was found.
    visibility, presence: (33,) float64, 0 to 1; 0 where nobody was found.
    """

    t_ns: int
    points_px: FloatArray
    visibility: FloatArray
    presence: FloatArray


@dataclass(frozen=True, slots=True)
class Effort:
    """Power and cadence from sensors at the moment of arrival; NaN = not given."""

    t_ns: int
    power_w: float
    cadence_rpm: float


@dataclass(frozen=True, slots=True)
class DrivenTurn:
    """How evenly a sensor's torques say that one revolution was driven, at the moment of arrival.

    As in :mod:`posewatch.core.smoothness`; NaN = not told. per_leg: of one leg; otherwise of both
    together.
    """

    t_ns: int
    pedal_smoothness_pct: float
    torque_effectiveness_pct: float
    per_leg: bool


class SourceCondition(StrEnum):
    """What a source says of itself."""

    RUNNING = "running"
    LOST = "lost"
    VIEW_MOVED = "view moved"
    SLOW = "slow"
    DARK = "dark"
    STEPPED = "stepped"
    LITTLE = "little left"
    FULL = "full"
    ENDED = "ended"


#: The sources whose loss loses the hold; sensors that stop are seen by their readings. The view is
#: what the camera sees of the room: it may move while the camera runs.
CAMERA = "camera"
VIEW = "view"
#: What the pictures are like (slow, dark): told, but what is seen in them decides.
PICTURE = "picture"
#: The wall clock, which may step, and the drive of the log, which may fill: told, and no stroke is
#: judged by them.
CLOCK = "clock"
DISK = "disk"
#: The video that is kept of a watch: told, and nothing is judged by it.
VIDEO = "video"


@dataclass(frozen=True, slots=True)
class SourceState:
    """A source (CAMERA, ..., VIDEO, or a sensor by its name) says how it is.

    text: for people.
    """

    t_ns: int
    source: str
    condition: SourceCondition
    text: str = ""


@dataclass(frozen=True, slots=True)
class Tick:
    """Time passed with nothing else to say."""

    t_ns: int


class CommandKind(StrEnum):
    """What an operator can say to the pipeline."""

    MARK = "mark"
    LABEL = "label"
    WITHDRAW = "withdraw"
    PAUSE = "pause"
    RESUME = "resume"


@dataclass(frozen=True, slots=True)
class Command:
    """An operator's word.

    A mark's text is its label. Marks count from 1 in the order of the log; WITHDRAW takes back the
    one whose number is its text, and LABEL names one: "3: towel".
    """

    t_ns: int
    kind: CommandKind
    text: str = ""


Input = Frame | Effort | DrivenTurn | Packet | SourceState | Tick | Command
#: What comes of pictures.
Seen = Frame | SourceState
