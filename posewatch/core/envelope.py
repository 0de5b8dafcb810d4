"""The target envelope: per channel a centre over the crank circle and a tolerance."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum

from posewatch.core.leg_chain import LegCurves
from posewatch.core.measuring_chain import MeasuringChain
from posewatch.core.pedal_circle import CrankGeometry
from posewatch.core.records import Channel, Side

#: Mean adult thigh as a share of stature 0.245 (Drillis and Contini, from memory) at 1.75 m:
#: only turns default tolerances in mm into fractions of the thigh before a camera is calibrated.
NOMINAL_THIGH_MM = 430.0

#: The fitter's starting point, outer limits: degrees for angles, mm for places.
DEFAULT_TOLERANCE = {
    Channel.TORSO: 3.0,
    Channel.KNEE: 4.0,
    Channel.HIP: 5.0,
    Channel.SITTING_PLACE: 8.0,
    Channel.PELVIS_HEIGHT: 8.0,
    Channel.HAND_PLACE: 20.0,
}
#: A softer pad lets the pelvis sink: that may be the result, not an error.
ADVISORY_BY_DEFAULT = frozenset({Channel.PELVIS_HEIGHT})
SHAPE_REQUIRED_BY_DEFAULT = frozenset({Channel.TORSO})

ANGLE_CHANNELS = (Channel.TORSO, Channel.KNEE, Channel.HIP)

#: Three sits tell how far a fresh sitting down moves a channel.
SITS_WANTED = 3


class LengthUnit(StrEnum):
    """What the core's lengths are in: picture px before a camera is calibrated, mm at the bike."""

    PX = "px"
    MM = "mm"


class Unit(StrEnum):
    """What a channel's values are in; THIGH is a fraction of the thigh's length at capture."""

    DEG = "deg"
    MM = "mm"
    THIGH = "thigh"

    @property
    def nominal(self) -> float:
        """Degrees or (nominal) mm to one of this unit."""
        return NOMINAL_THIGH_MM if self is Unit.THIGH else 1.0


@dataclass(frozen=True, slots=True)
class Envelope:
    """One channel of a target.

    tol: outer limit of the deviation, in ``unit``.
    stroke_sd: spread of the stroke value within a sit at capture, same unit; stroke_lag1: how alike
        one stroke's value is to the next one's (autocorrelation, -1 to 1).
    resit_sd: spread between the means of sits, same unit; None where only one sit was captured.
    shape_limit: limit of the RMS about the stroke's own mean, same unit.
    centre: harmonics over the crank angle in the order of ``harmonics.basis``; the hand place has
        two curves (forward, up), every other channel one.
    """

    channel: Channel
    unit: Unit
    tol: float
    required: bool
    stroke_sd: float
    stroke_lag1: float
    resit_sd: float | None
    shape_limit: float
    shape_required: bool
    centre: tuple[tuple[float, ...], ...]

    @property
    def inner(self) -> float:
        """Limit for coming back in: tol less max(0.15 tol, 2 SD), at most 0.4 tol."""
        return inner_limit(self.tol, self.stroke_sd)


def inner_limit(tol: float, stroke_sd: float) -> float:
    """Return the limit inside which a channel that was out is in band again."""
    return tol - min(max(0.15 * tol, 2.0 * stroke_sd), 0.4 * tol)


@dataclass(frozen=True, slots=True)
class Segments:
    """The rider's near-side segment lengths as seen (medians), in the length unit."""

    trunk: float
    thigh: float
    shank: float


@dataclass(frozen=True, slots=True)
class Target:
    """A saved position for one rider, bike, hand position and measuring chain.

    version counts from 1 and is 0 before the target is kept. length_unit is that of crank, leg and
    segments. sits: strokes used of each sit; n_dropped were left out as unlike the others.
    cadence_rpm is the median at capture, for information. created: wall time, ISO 8601 with its
    offset, empty before it is kept.
    """

    rider: str
    bike: str
    hands: str
    version: int
    chain: MeasuringChain
    side: Side
    envelopes: tuple[Envelope, ...]
    length_unit: LengthUnit
    crank: CrankGeometry
    leg: LegCurves
    segments: Segments
    sits: tuple[int, ...]
    n_dropped: int
    cadence_rpm: float
    author: str = ""
    created: str = ""
    note: str = ""

    @property
    def n_strokes(self) -> int:
        """How many strokes it was made of."""
        return sum(self.sits)

    @property
    def place_unit(self) -> Unit:
        """What places are in."""
        return Unit.MM if self.length_unit is LengthUnit.MM else Unit.THIGH

    @property
    def place_scale(self) -> float:
        """Places to one unit of length."""
        return 1.0 if self.length_unit is LengthUnit.MM else 1.0 / self.segments.thigh

    def envelope(self, channel: Channel) -> Envelope:
        """Return the envelope of one body channel."""
        return next(e for e in self.envelopes if e.channel is channel)

    def with_tolerance(self, channel: Channel, tol: float) -> Target:
        """Return the same target with another outer limit for one channel."""
        envelopes = tuple(
            replace(e, tol=tol) if e.channel is channel else e for e in self.envelopes
        )
        return replace(self, envelopes=envelopes)


def length_unit(chain: MeasuringChain) -> LengthUnit:
    """Return what lengths are in under a measuring chain."""
    return LengthUnit.PX if chain.view is None else LengthUnit.MM
