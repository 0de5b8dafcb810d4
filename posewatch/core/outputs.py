"""What comes out of the pipeline, in the words that screens and files use."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from posewatch.core.envelope import Unit
from posewatch.core.records import Channel, Verdict


class Reason(StrEnum):
    """Why a value is unknown, a stroke does not count, or the hold was lost."""

    NOT_TURNING = "crank did not turn forward throughout"
    TOO_SLOW = "revolution took over 1.5 s"
    NOT_BELIEVED = "too few frames believed"
    HOLE = "gap in what was seen"
    DISAGREE = "leg's joints do not belong together"
    NO_EFFORT = "no effort reading"
    OUT_OF_SADDLE = "out of the saddle"
    HAND_OFF = "hand off"
    COASTED = "coasting"
    BACK_PEDALLED = "back-pedalling"
    NOT_SEEN = "rider not seen"
    CAMERA = "camera"
    VIEW_MOVED = "camera's view moved"
    PAUSED = "paused"
    DRIFT = "position drifted"
    EFFORT = "effort off plan"
    TOO_OFTEN = "out too often"
    UNKNOWN = "strokes unknown"


class Phase(StrEnum):
    """Where the hold stands."""

    SIT_IN = "sit-in"
    STEADYING = "steadying"
    IN_POSITION = "in position"


@dataclass(frozen=True, slots=True)
class ChannelValue:
    """A channel's stroke value and verdict; value is NaN and reason set where unknown.

    deviation: mean over the stroke, in the envelope's unit; for the hand place the distance.
    spread: RMS about that mean within the stroke.
    along, up: the hand place's two parts, NaN for every other channel. restless: out because of
    the spread alone, the mean is in band.
    """

    channel: Channel
    deviation: float
    spread: float
    verdict: Verdict
    required: bool
    reason: Reason | None = None
    along: float = float("nan")
    up: float = float("nan")
    restless: bool = False


@dataclass(frozen=True, slots=True)
class StrokeJudged:
    """One revolution, judged; counted = it counts (if its run grows long enough)."""

    start_ns: int
    end_ns: int
    verdict: Verdict
    counted: bool
    phase: Phase
    channels: tuple[ChannelValue, ...]
    reason: Reason | None

    @property
    def cadence_rpm(self) -> float:
        """Mean cadence of this revolution."""
        return 60e9 / (self.end_ns - self.start_ns)


@dataclass(frozen=True, slots=True)
class HoldGained:
    """The rider is in position from here."""

    t_ns: int


@dataclass(frozen=True, slots=True)
class HoldLost:
    """The hold was lost; channel and direction are set where one channel did it.

    direction: the cue word for coming back, empty where none applies.
    """

    t_ns: int
    reason: Reason
    channel: Channel | None = None
    direction: str = ""


@dataclass(frozen=True, slots=True)
class BriefDrift:
    """A short departure, forgiven: its strokes do not count, the hold stands."""

    start_ns: int
    end_ns: int
    n_strokes: int
    channel: Channel | None
    direction: str


@dataclass(frozen=True, slots=True)
class CueChanged:
    """The rider's cue from here on; channel None = all is well."""

    t_ns: int
    channel: Channel | None
    direction: str


@dataclass(frozen=True, slots=True)
class ValidInterval:
    """Half-open [start, end) of adjacent counted strokes; confirmed = long enough to count."""

    start_ns: int
    end_ns: int
    n_strokes: int
    confirmed: bool


@dataclass(frozen=True, slots=True)
class CreepWarning:
    """A channel stayed in band and is yet not where it was: its change over the last span.

    change: in ``unit``, later minus earlier.
    """

    t_ns: int
    channel: Channel
    change: float
    span_ns: int
    unit: Unit


@dataclass(frozen=True, slots=True)
class LengthsDiffer:
    """A segment ("thigh") is seen longer or shorter than the target's, by a share: same rider?"""

    t_ns: int
    segment: str
    share: float


@dataclass(frozen=True, slots=True)
class CadenceDiffers:
    """Sensor and camera do not agree on the cadence; difference_rpm: sensor minus camera."""

    t_ns: int
    difference_rpm: float


class Measure(StrEnum):
    """What varied too much."""

    STROKE_PERIOD = "stroke period"
    POWER = "power"


@dataclass(frozen=True, slots=True)
class SmoothnessFlag:
    """Over the half minute before t_ns a measure's CV, in percent, was over its limit."""

    t_ns: int
    measure: Measure
    cv_pct: float


class Figure(StrEnum):
    """A measure of how evenly the crank is driven within a revolution, from torques."""

    PEDAL_SMOOTHNESS = "pedal smoothness"
    TORQUE_EFFECTIVENESS = "torque effectiveness"


@dataclass(frozen=True, slots=True)
class SmoothnessMean:
    """The mean of a figure, in percent, over n_turns revolutions in position, the last at t_ns.

    per_leg: of one leg; otherwise of both together, where the one hides what the other does.
    """

    t_ns: int
    figure: Figure
    mean_pct: float
    n_turns: int
    per_leg: bool


Output = (
    StrokeJudged
    | HoldGained
    | HoldLost
    | BriefDrift
    | CueChanged
    | CreepWarning
    | LengthsDiffer
    | CadenceDiffers
    | SmoothnessFlag
    | SmoothnessMean
    | ValidInterval
)
