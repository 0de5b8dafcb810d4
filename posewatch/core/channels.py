"""From body points to deviations from a target, and from deviations to verdicts.

Deviations travel as arrays of seven columns: torso, knee and hip in degrees; sitting place,
pelvis height and the hand's two parts (forward, up) as fractions of the thigh at capture. The hand
place has one value and one limit: the distance that its two mean parts make.
"""

from __future__ import annotations

import math

import numpy as np

from posewatch.core import harmonics
from posewatch.core.envelope import Envelope, Target
from posewatch.core.landmarks import HIP, WRIST, BodySample
from posewatch.core.outputs import ChannelValue, Reason
from posewatch.core.records import Channel, FloatArray, Verdict
from posewatch.core.strokes import Revolution

N_COLUMNS = 7
COLUMNS: dict[Channel, tuple[int, ...]] = {
    Channel.TORSO: (0,),
    Channel.KNEE: (1,),
    Channel.HIP: (2,),
    Channel.SITTING_PLACE: (3,),
    Channel.PELVIS_HEIGHT: (4,),
    Channel.HAND_PLACE: (5, 6),
}


def measured_values(sample: BodySample, thigh_px: float) -> FloatArray:
    """Return the seven measured columns, NaN where not believed.

    thigh_px: the thigh's length at capture. Places are seen from the picture's corner: they mean
    something only as differences under one camera that does not move.
    """
    hip, wrist = sample.points_px[HIP], sample.points_px[WRIST]
    return np.array(
        (
            sample.torso_deg,
            sample.knee_flexion_deg,
            sample.hip_included_deg,
            hip[0] / thigh_px,
            hip[1] / thigh_px,
            wrist[0] / thigh_px,
            wrist[1] / thigh_px,
        )
    )


def centre_table(target: Target) -> FloatArray:
    """Return the target's centre curves side by side, (1 + 2 order, 7) float64."""
    table = np.empty((len(target.envelopes[0].centre[0]), N_COLUMNS))
    for channel, columns in COLUMNS.items():
        for column, curve in zip(columns, target.envelope(channel).centre, strict=True):
            table[:, column] = curve
    return table


def deviations(values: FloatArray, centres: FloatArray, angle_rad: float) -> FloatArray:
    """Return measured minus centre at one crank angle, (7,) float64."""
    curve = harmonics.evaluate(centres, np.array([angle_rad]))[0]
    return np.asarray(values - curve, np.float64)


def channel_size(channel: Channel, parts: FloatArray) -> float:
    """Return a channel's one number from its (7,) columns: signed, or the hand's distance."""
    columns = COLUMNS[channel]
    if len(columns) == 1:
        return float(parts[columns[0]])
    return math.hypot(*(float(parts[c]) for c in columns))


def judge_stroke(envelope: Envelope, revolution: Revolution, was_out: bool) -> ChannelValue:
    """Judge one channel over one revolution.

    was_out: the channel was out on the last stroke, so that it must come back inside the inner
    limit before it is good again.
    """
    columns = COLUMNS[envelope.channel]
    reason = next((r for c in columns if (r := revolution.reasons[c]) is not None), None)
    size = channel_size(envelope.channel, revolution.means)
    spread = channel_size(envelope.channel, revolution.spreads)
    limit = envelope.inner if was_out else envelope.tol
    is_off = abs(size) > limit
    restless = not is_off and envelope.shape_required and spread > envelope.shape_limit
    verdict = Verdict.OUT if is_off or restless else Verdict.GOOD
    if reason is not None:
        verdict, restless, size, spread = Verdict.UNKNOWN, False, math.nan, math.nan
    along, up = (
        (float(revolution.means[5]), float(revolution.means[6]))
        if len(columns) == 2 and reason is None
        else (math.nan, math.nan)
    )
    return ChannelValue(
        envelope.channel, size, spread, verdict, envelope.required, reason, along, up, restless
    )


def judge_effort(
    channel: Channel, value: float, centre: float, tol: float, was_out: bool
) -> ChannelValue:
    """Judge power or cadence for one stroke; NaN = no reading in time."""
    deviation = value - centre
    if math.isnan(deviation):
        return ChannelValue(channel, math.nan, 0.0, Verdict.UNKNOWN, True, Reason.NO_EFFORT)
    limit = tol - EFFORT_RETURN * tol if was_out else tol
    verdict = Verdict.OUT if abs(deviation) > limit else Verdict.GOOD
    return ChannelValue(channel, deviation, 0.0, verdict, True)


#: An effort channel that was out is good again inside tol less this share.
EFFORT_RETURN = 0.15


def stroke_verdict(values: tuple[ChannelValue, ...]) -> tuple[Verdict, Reason | None]:
    """Return a stroke's verdict over its required channels and, where unknown, why."""
    required = [v for v in values if v.required]
    if any(v.verdict is Verdict.OUT for v in required):
        return Verdict.OUT, None
    for value in required:
        if value.verdict is Verdict.UNKNOWN:
            return Verdict.UNKNOWN, value.reason
    return Verdict.GOOD, None
