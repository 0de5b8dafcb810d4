"""The target envelope: per channel a centre over the crank circle and a tolerance."""

from __future__ import annotations

from dataclasses import dataclass, replace

from posewatch.core.pedal_circle import CrankGeometry
from posewatch.core.records import Channel, MeasuringChain, Side

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


@dataclass(frozen=True, slots=True)
class Envelope:
    """One channel of a target.

    tol: outer limit of the deviation, in ``unit`` ("deg" or "thigh", a fraction of the thigh).
    stroke_sd: spread of the stroke value at capture, same unit.
    shape_limit: limit of the RMS about the stroke's own mean, same unit.
    centre: harmonics over the crank angle in the order of ``harmonics.basis``; the hand place has
        two curves (forward, up), every other channel one.
    """

    channel: Channel
    unit: str
    tol: float
    required: bool
    stroke_sd: float
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
    """The rider's near-side segment lengths as seen at capture, image px (medians)."""

    trunk_px: float
    thigh_px: float
    shank_px: float


@dataclass(frozen=True, slots=True)
class Target:
    """A saved position for one rider, bike, hand position and measuring chain.

    version counts from 1 and is 0 before the target is kept. n_strokes were used, n_dropped were
    left out as unlike the others. cadence_rpm is the median at capture, for information.
    """

    rider: str
    bike: str
    hands: str
    version: int
    chain: MeasuringChain
    side: Side
    envelopes: tuple[Envelope, ...]
    crank: CrankGeometry
    segments: Segments
    n_strokes: int
    n_dropped: int
    cadence_rpm: float
    note: str = ""

    def envelope(self, channel: Channel) -> Envelope:
        """Return the envelope of one body channel."""
        return next(e for e in self.envelopes if e.channel is channel)

    def with_tolerance(self, channel: Channel, tol: float) -> Target:
        """Return the same target with another outer limit for one channel."""
        envelopes = tuple(
            replace(e, tol=tol) if e.channel is channel else e for e in self.envelopes
        )
        return replace(self, envelopes=envelopes)
