"""From body points to deviations from a target, and from deviations to verdicts.

Deviations travel as arrays of nine columns: torso, knee and hip in degrees; sitting place, pelvis
height and the hand's two parts (forward, up) in the target's unit of places; knee and hip again,
from the leg's chain, as a check. The hand place has one value and one limit: the distance that its
two mean parts make.
"""

from __future__ import annotations

import math

import numpy as np

from posewatch.core import harmonics
from posewatch.core.angles import body_angles_at
from posewatch.core.envelope import Envelope, Target
from posewatch.core.landmarks import ANKLE, HIP, KNEE, SHOULDER, WRIST
from posewatch.core.outputs import ChannelValue, Reason
from posewatch.core.records import Channel, FloatArray, Verdict
from posewatch.core.strokes import Revolution
from posewatch.core.tracking import Tracked

N_COLUMNS = 9
#: The first of them are judged, the others only check.
N_JUDGED = 7
COLUMNS: dict[Channel, tuple[int, ...]] = {
    Channel.TORSO: (0,),
    Channel.KNEE: (1,),
    Channel.HIP: (2,),
    Channel.SITTING_PLACE: (3,),
    Channel.PELVIS_HEIGHT: (4,),
    Channel.HAND_PLACE: (5, 6),
}
#: Columns of the hip's place.
HIP_COLUMNS = (3, 4)
#: The same angle from the leg's chain: a stroke whose two means differ by more is not known.
CHECK_COLUMNS = {Channel.KNEE: 7, Channel.HIP: 8}
CHECK_LIMIT_DEG = 1.0


def measured_values(tracked: Tracked, place_scale: float) -> FloatArray:
    """Return the nine measured columns, NaN where not believed.

    place_scale: places to one unit of length. Uncalibrated places are seen from the picture's
    corner: they mean something only as differences under one camera that does not move. A hip that
    the leg's chain carries stands in for the one that is not believed.
    """
    body, leg = tracked.body, tracked.leg
    torso, knee, hip = body.torso_deg, body.knee_flexion_deg, body.hip_included_deg
    seat, wrist = body.points[HIP], body.points[WRIST]
    check_knee = check_hip = math.nan
    if leg is not None:
        shoulder = body.points[SHOULDER]
        _, check_knee, check_hip = body_angles_at(shoulder.tolist(), *leg.points.tolist())
        if leg.carried:
            seat = leg.points[0]
            torso, knee, hip = body_angles_at(
                *(p.tolist() for p in (shoulder, seat, body.points[KNEE], body.points[ANKLE]))
            )
    return np.array(
        (
            torso,
            knee,
            hip,
            seat[0] * place_scale,
            seat[1] * place_scale,
            wrist[0] * place_scale,
            wrist[1] * place_scale,
            check_knee,
            check_hip,
        )
    )


def centre_table(target: Target) -> FloatArray:
    """Return the target's centre curves side by side, (1 + 2 order, 9) float64."""
    table = np.empty((len(target.envelopes[0].centre[0]), N_COLUMNS))
    for channel, columns in COLUMNS.items():
        for column, curve in zip(columns, target.envelope(channel).centre, strict=True):
            table[:, column] = curve
    for channel, column in CHECK_COLUMNS.items():
        table[:, column] = table[:, COLUMNS[channel][0]]
    return table


def centre_at(centres: FloatArray, angle_rad: float) -> FloatArray:
    """Return the centres at one crank angle, (9,) float64."""
    return np.asarray(harmonics.evaluate(centres, np.array([angle_rad]))[0], np.float64)


def channel_size(channel: Channel, parts: FloatArray) -> float:
    """Return a channel's one number from its (9,) columns: signed, or the hand's distance."""
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
    if reason is None and _check_differs(envelope.channel, revolution):
        reason = Reason.DISAGREE
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


def _check_differs(channel: Channel, revolution: Revolution) -> bool:
    """Tell whether the chain's mean of an angle is known and is another than the plain one."""
    if channel not in CHECK_COLUMNS:
        return False
    check = revolution.means[CHECK_COLUMNS[channel]]
    return bool(abs(check - revolution.means[COLUMNS[channel][0]]) > CHECK_LIMIT_DEG)


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
