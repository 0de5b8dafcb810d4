"""What goes into the pipeline, and the words shared by all of it.

Inputs are logged with a sequence number in the order they were consumed; feeding them again in
that order gives the same valid intervals.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, dataclass, fields
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

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


class SourceCondition(StrEnum):
    """What a source says of itself."""

    RUNNING = "running"
    LOST = "lost"
    VIEW_MOVED = "view moved"
    ENDED = "ended"


#: The source whose loss loses the hold; sensors that stop are seen by their readings.
CAMERA = "camera"


@dataclass(frozen=True, slots=True)
class SourceState:
    """A source (CAMERA, or a sensor by its name) changed its condition."""

    t_ns: int
    source: str
    condition: SourceCondition


@dataclass(frozen=True, slots=True)
class Tick:
    """Time passed with nothing else to say."""

    t_ns: int


class CommandKind(StrEnum):
    """What an operator can say to the pipeline."""

    MARK = "mark"
    PAUSE = "pause"
    RESUME = "resume"


@dataclass(frozen=True, slots=True)
class Command:
    """An operator's word."""

    t_ns: int
    kind: CommandKind
    text: str = ""


Input = Frame | Effort | SourceState | Tick | Command


@dataclass(frozen=True, slots=True)
class MeasuringChain:
    """Everything that shapes the numbers; a target fits the chain that captured it, no other.

    rate_hz is compared with a tolerance, since a camera's true rate wanders; kit, the fitter's word
    for what the rider wears, only where both state it (empty = not stated); everything else must be
    the same. So chains that fit may still have different fingerprints.
    """

    camera_profile: str
    width_px: int
    height_px: int
    rate_hz: float
    model_name: str
    model_sha256: str
    pose_library: str
    pose_workers: int
    kit: str = ""

    def fingerprint(self) -> str:
        """Return 16 hex digits that change with any part of the chain (the rate to 1 Hz)."""
        parts = asdict(self) | {"rate_hz": round(self.rate_hz)}
        text = json.dumps(parts, sort_keys=True, separators=(",", ":"))
        return hashlib.sha256(text.encode()).hexdigest()[:16]

    def differences(self, other: MeasuringChain) -> tuple[str, ...]:
        """Name the parts in which two chains differ, as ``part: this / other``."""
        found = []
        for field in fields(self):
            mine, theirs = getattr(self, field.name), getattr(other, field.name)
            if field.name == "rate_hz":
                same = abs(mine - theirs) <= RATE_TOLERANCE * max(mine, theirs)
            elif field.name == "kit":
                same = not mine or not theirs or mine == theirs
            else:
                same = mine == theirs
            if not same:
                found.append(f"{field.name}: {_short(mine)} / {_short(theirs)}")
        return tuple(found)


def _short(value: object) -> str:
    """Return a value as people compare it: a rate in tenths, of a digest only the beginning."""
    text = f"{value:.1f}" if isinstance(value, float) else str(value)
    return f"{text[:12]}..." if len(text) == SHA256_DIGITS else text


SHA256_DIGITS = 64
#: A webcam's measured rate may differ this much from the one at capture (share of the larger).
RATE_TOLERANCE = 0.1
