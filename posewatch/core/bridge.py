"""Bridging: what a new mounting does to the numbers, before anything is judged with it.

The garment and the thing mounted are also what the camera looks at: another pair of shorts moves
the hip that is seen, not the rider's. Twenty strokes after each mounting, held against the target,
show by how much. Nothing is judged in or out, and nothing is ever centred anew: an offset is kept
and told. What is seen is garment, mounting and how the rider sat down together.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from enum import StrEnum
from statistics import NormalDist

import numpy as np

from posewatch.core import channels, pipeline, spreads
from posewatch.core.envelope import Target, Unit
from posewatch.core.measuring_chain import MeasuringChain
from posewatch.core.records import Channel
from posewatch.core.resolution import STROKES, effective_strokes
from posewatch.core.sits import Sit, part_into_sits
from posewatch.core.tracking import Tracked
from posewatch.errors import BadInput

#: What a bridge tells of.
BRIDGED = (
    Channel.TORSO,
    Channel.KNEE,
    Channel.HIP,
    Channel.SITTING_PLACE,
    Channel.PELVIS_HEIGHT,
)
#: The aims: so much may a mounting move the numbers for lengths to be compared across mountings.
TORSO_AIM_DEG = 0.5
#: Of the hip's place: sitting place and pelvis height together, as a distance.
HIP_AIM_MM = 3.0
#: Within the aim is told where the whole 90 % interval is (two one-sided tests at 5 % each).
_Z = NormalDist().inv_cdf(0.95)


@dataclass(frozen=True, slots=True)
class Offset:
    """A channel's mean over the strokes of a bridge less the target's centre.

    standard_error: SD of the strokes over the root of their effective number.
    """

    channel: Channel
    unit: Unit
    mean: float
    stroke_sd: float
    stroke_lag1: float
    standard_error: float


@dataclass(frozen=True, slots=True)
class Bridge:
    """One mounting's offsets from a target.

    target: its name; position: fingerprint of the centres that the offsets are from; chain: that
    of the chain that measured; offsets: in the order of BRIDGED; created: wall time, ISO 8601 with
    its offset, empty before it is kept.
    """

    target: str
    position: str
    chain: str
    mounting: str
    kit: str
    offsets: tuple[Offset, ...]
    n_strokes: int
    created: str = ""

    def offset(self, channel: Channel) -> Offset:
        """Return one channel's offset."""
        return next(o for o in self.offsets if o.channel is channel)


class Within(StrEnum):
    """How an offset stands to its aim."""

    YES = "within the aim"
    NO = "beyond the aim"
    UNTOLD = "not told from the aim"


@dataclass(frozen=True, slots=True)
class Finding:
    """One aim, and what was found: size and its uncertainty (half of the 90 % interval).

    unit: deg, mm, or mm* for nominal mm.
    """

    what: str
    unit: str
    size: float
    uncertainty: float
    aim: float

    @property
    def within(self) -> Within:
        """Whether the whole interval is inside the aim, none of it, or a part."""
        if self.size + self.uncertainty <= self.aim:
            return Within.YES
        return Within.NO if self.size - self.uncertainty > self.aim else Within.UNTOLD


@dataclass(frozen=True, slots=True)
class BridgeVerdict:
    """Whether lengths may be compared.

    findings: torso and hip, empty where the two have nothing in common. obstacle: why then.
    """

    findings: tuple[Finding, ...]
    obstacle: str = ""

    @property
    def within(self) -> Within:
        """The worst of the findings."""
        if self.obstacle or any(f.within is Within.NO for f in self.findings):
            return Within.NO
        told = all(f.within is Within.YES for f in self.findings)
        return Within.YES if told else Within.UNTOLD

    @property
    def allowed(self) -> bool:
        """Whether mm may be compared."""
        return self.within is Within.YES


def position_fingerprint(target: Target) -> str:
    """Return 16 hex digits of what a target measures from; limits and notes do not change it."""
    parts = {
        "side": target.side,
        "length_unit": target.length_unit,
        "centres": [e.centre for e in target.envelopes],
        "crank": asdict(target.crank),
        "leg": asdict(target.leg),
        "segments": asdict(target.segments),
        "chain": target.chain.fingerprint(),
    }
    text = json.dumps(parts, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def bridge(
    tracked: Sequence[Tracked], target: Target, chain: MeasuringChain, mounting: str, source: str
) -> Bridge:
    """Return the offsets of the first STROKES strokes of the first sit that has so many.

    Args:
        tracked: pictures of the rider on the new mounting, followed with the target's circle.
        target: what to hold them against.
        chain: the chain at hand.
        mounting: the fitter's label.
        source: the recording's name, for messages.

    Raises:
        BadInput: no sit has enough strokes that are known and alike.
    """
    found = _sits(tracked, target)
    sit = next((one for one in found if len(one.good) >= STROKES), None)
    if sit is None:
        most = max((len(one.good) for one in found), default=0)
        raise BadInput(
            f"At most {most} good strokes of one sit were found in {source}; a bridge takes "
            f"{STROKES}.",
            "Record half a minute of steady pedalling after the rider has sat down.",
        )
    means = np.array([revolution.means for revolution in sit.good[:STROKES]])
    offsets = []
    for channel in BRIDGED:
        column = means[:, list(channels.COLUMNS[channel])]
        sd, lag1 = spreads.stroke_sd([column]), spreads.stroke_lag1([column])
        error = sd / math.sqrt(effective_strokes(STROKES, lag1))
        unit = target.envelope(channel).unit
        offsets.append(Offset(channel, unit, float(column.mean()), sd, lag1, error))
    name = f"{target.rider}/{target.bike}/{target.hands}/v{target.version}"
    return Bridge(
        name,
        position_fingerprint(target),
        chain.fingerprint(),
        mounting,
        chain.kit,
        tuple(offsets),
        STROKES,
    )


def _sits(tracked: Sequence[Tracked], target: Target) -> list[Sit]:
    centres = channels.centre_table(target)
    kept = [one for one in tracked if one.crank.known]
    if not kept:
        return []
    seen = [pipeline.observation(one, target.place_scale, centres) for one in kept]
    away = np.array([one.deviations for one in seen])
    hip_off = np.array([one.hip_off or one.deviations[list(channels.HIP_COLUMNS)] for one in seen])
    return part_into_sits(kept, away, hip_off, target.place_unit.nominal)


def judge_bridge(one: Bridge) -> BridgeVerdict:
    """Hold a mounting's own offsets against the aims."""
    return BridgeVerdict(_findings([(1.0, one)]))


def compare_bridges(a: Bridge, b: Bridge) -> BridgeVerdict:
    """Tell whether lengths may be compared between two mountings.

    They may where the difference of their offsets is within the aims with its uncertainty: the
    mountings then move the numbers alike, even if both are off the target.
    """
    if a.position != b.position:
        return BridgeVerdict((), f"{a.mounting} and {b.mounting} are held against other targets")
    return BridgeVerdict(_findings([(1.0, a), (-1.0, b)]))


def _findings(signed: Sequence[tuple[float, Bridge]]) -> tuple[Finding, ...]:
    def part(channel: Channel) -> tuple[float, float]:
        """Return the sum and its standard error, degrees or (nominal) mm."""
        offsets = [(sign, one.offset(channel)) for sign, one in signed]
        total = sum(sign * o.mean * o.unit.nominal for sign, o in offsets)
        return total, math.hypot(*(o.standard_error * o.unit.nominal for _, o in offsets))

    torso, torso_se = part(Channel.TORSO)
    along, along_se = part(Channel.SITTING_PLACE)
    up, up_se = part(Channel.PELVIS_HEIGHT)
    distance = math.hypot(along, up)
    calibrated = all(one.offset(Channel.SITTING_PLACE).unit is Unit.MM for _, one in signed)
    length = "mm" if calibrated else "mm*"
    # The error of a distance is that along its own direction (first order).
    share = (along / distance, up / distance) if distance > 0 else (1.0, 1.0)
    hip_se = math.hypot(share[0] * along_se, share[1] * up_se)
    return (
        Finding("torso", "deg", abs(torso), _Z * torso_se, TORSO_AIM_DEG),
        Finding("hip's place", length, distance, _Z * hip_se, HIP_AIM_MM),
    )
