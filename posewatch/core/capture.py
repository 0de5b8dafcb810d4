"""A target envelope from a recording of the rider in the fitted position.

The circle of the ankle and its map to the crank angle are learned first, then the centre curves
from the strokes that are alike; strokes unlike the others are dropped and counted.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from posewatch.core import channels, crank, harmonics, pedal_circle, strokes, tracking
from posewatch.core.envelope import (
    ADVISORY_BY_DEFAULT,
    ANGLE_CHANNELS,
    DEFAULT_TOLERANCE,
    NOMINAL_THIGH_MM,
    SHAPE_REQUIRED_BY_DEFAULT,
    Envelope,
    Segments,
    Target,
)
from posewatch.core.landmarks import ANKLE, HIP, KNEE, SHOULDER
from posewatch.core.pedal_circle import TURN, CrankGeometry
from posewatch.core.records import BODY_CHANNELS, Channel, FloatArray, Frame, MeasuringChain
from posewatch.core.strokes import Revolution, Sample, StrokeState
from posewatch.core.timebase import to_s
from posewatch.core.tracking import Tracked
from posewatch.errors import BadInput

#: Strokes for a stable mean curve: 38 in elite riders (Williams et al. 2025, Sports Biomech 24(9)).
MIN_STROKES = 38
CURVE_ORDER = 6
#: Fewer believed ankles than this cannot be three turns of pedalling.
MIN_ANKLES = 24
#: A stroke whose mean lies this many robust SDs from the median is unlike the others.
OUTLIER_SD = 3.5
#: The robust SD is not taken below these: degrees, and fractions of the thigh.
SMALLEST_SD = np.array((0.3, 0.3, 0.3, 0.003, 0.003, 0.003, 0.003))
SHAPE_FACTOR = 1.5
SHAPE_PERCENTILE = 95.0
#: A shape limit is never under this share of tol: a band narrower than the measurement's own noise
#: gives only false losses, and a rider's rocking is not the same from one ride to the next.
SHAPE_LEAST = 0.25
GEOMETRY_ROUNDS = 3


@dataclass(frozen=True, slots=True)
class Subject:
    """Whose position it is: rider, bike and hand position, as the fitter calls them."""

    rider: str
    bike: str
    hands: str
    note: str = ""


def capture(
    frames: Sequence[Frame], chain: MeasuringChain, subject: Subject, source: str
) -> Target:
    """Return the target of a recording, version 0.

    Args:
        frames: the whole recording, times rising.
        chain: the chain that made the frames; it also holds the picture's size.
        subject: rider, bike, hand position.
        source: the recording's name, for messages.

    Raises:
        BadInput: nobody, nobody pedals, or too few good strokes.
    """
    tracked = _track(frames, chain, None)
    if not any(t.body.seen for t in tracked):
        raise BadInput(
            f"No rider is seen in {source}.",
            "Check that the whole near side of the rider is in the picture and well lit.",
        )
    geometry = None
    for _ in range(GEOMETRY_ROUNDS):
        geometry = _learn_geometry(tracked, geometry)
        if geometry is None:
            raise BadInput(
                f"Nobody pedals in {source}, or not for three whole turns.",
                "Record at least 40 strokes of steady pedalling, seen square from the side.",
            )
        tracked = _track(frames, chain, geometry)
    assert geometry is not None
    return envelope_of(tracked, geometry, chain, subject, source)


def _track(
    frames: Sequence[Frame], chain: MeasuringChain, geometry: CrankGeometry | None
) -> list[Tracked]:
    state = tracking.start(chain.width_px, chain.height_px)
    if geometry is not None:
        state = tracking.start_with_geometry(chain.width_px, chain.height_px, geometry)
    result = []
    for frame in frames:
        state, tracked = tracking.step(state, frame)
        result.append(tracked)
    return result


def _learn_geometry(
    tracked: Sequence[Tracked], before: CrankGeometry | None
) -> CrankGeometry | None:
    """Return the ankle's centre over the crank angle, and the map about that centre."""
    rows = [
        (to_s(t.t_ns), t.crank.angle_rad, *t.body.points_px[ANKLE])
        for t in tracked
        if t.crank.measured and t.body.seen and t.crank.speed_rad_s > crank.FROZEN_BELOW_RAD_S
    ]
    if len(rows) < MIN_ANKLES:
        return None
    table = np.array(rows)
    curve = harmonics.fit(table[:, 1], table[:, 2:], pedal_circle.MAP_ORDER)
    centre = curve[0]
    from_centre = table[:, 2:] - centre
    radius = float(np.hypot(from_centre[:, 0], from_centre[:, 1]).mean())
    angle = np.arctan2(from_centre[:, 0], from_centre[:, 1])
    # The filter's count of turns keeps the circle's angle from slipping a turn over a gap.
    turns = np.round((table[:, 1] - angle) / TURN)
    try:
        angle_map = pedal_circle.learn_map(angle + TURN * turns, table[:, 0])
    except ValueError:
        return None
    return CrankGeometry(float(centre[0]), float(centre[1]), radius, angle_map)


def envelope_of(
    tracked: Sequence[Tracked],
    geometry: CrankGeometry,
    chain: MeasuringChain,
    subject: Subject,
    source: str,
) -> Target:
    """Return the target of tracked pictures whose circle and map are known; as for capture."""
    segments = _segments(tracked)
    known = [t for t in tracked if t.crank.known]
    values = np.array([channels.measured_values(t.body, segments.thigh_px) for t in known])
    angles = np.array([t.crank.angle_rad for t in known])
    used = np.isfinite(values).all(axis=1)
    good: list[Revolution] = []
    n_known = 0
    for _ in range(3):
        if np.count_nonzero(used) < MIN_STROKES:
            break
        centres = harmonics.fit(angles[used], values[used], CURVE_ORDER)
        away = values - harmonics.evaluate(centres, angles)
        ended = _revolutions(known, away)
        known_ones = [r for r in ended if all(reason is None for reason in r.reasons)]
        n_known = len(known_ones)
        good = _alike(known_ones)
        used = _inside(good, [t.t_ns for t in known]) & np.isfinite(values).all(axis=1)
    if len(good) < MIN_STROKES:
        raise BadInput(
            f"Only {len(good)} good strokes were found in {source}; {MIN_STROKES} are needed.",
            "Record about a minute of steady pedalling at 60 to 110 rpm in the fitted position.",
        )
    side = next(t.side for t in reversed(tracked) if t.side is not None)
    durations_s = [to_s(r.end_ns - r.start_ns) for r in good]
    return Target(
        subject.rider,
        subject.bike,
        subject.hands,
        0,
        chain,
        side,
        tuple(_channel_envelope(channel, good, centres) for channel in BODY_CHANNELS),
        geometry,
        segments,
        len(good),
        n_known - len(good),
        60.0 / float(np.median(durations_s)),
        subject.note,
    )


def _segments(tracked: Sequence[Tracked]) -> Segments:
    points = np.array([t.body.points_px for t in tracked if t.body.seen])
    pairs = ((SHOULDER, HIP), (HIP, KNEE), (KNEE, ANKLE))
    steps = [points[:, a] - points[:, b] for a, b in pairs]
    return Segments(*(float(np.median(np.hypot(s[:, 0], s[:, 1]))) for s in steps))


def _revolutions(known: Sequence[Tracked], away: FloatArray) -> list[Revolution]:
    state = StrokeState()
    ended: list[Revolution] = []
    for tracked, row in zip(known, away, strict=True):
        sample = Sample(tracked.t_ns, tracked.crank.angle_rad, row)
        state, new = strokes.step(state, sample)
        ended += new
    return ended


def _alike(revolutions: Sequence[Revolution]) -> list[Revolution]:
    """Return the strokes whose mean and spread are like the others'."""
    if not revolutions:
        return []
    kept = np.ones(len(revolutions), np.bool_)
    for table in (
        np.array([r.means for r in revolutions]),
        np.array([r.spreads for r in revolutions]),
    ):
        middle = np.median(table, axis=0)
        robust_sd = 1.4826 * np.median(np.abs(table - middle), axis=0)
        limit = OUTLIER_SD * np.maximum(robust_sd, SMALLEST_SD)
        kept &= np.all(np.abs(table - middle) <= limit, axis=1)
    return [r for r, keep in zip(revolutions, kept, strict=True) if keep]


def _inside(revolutions: Sequence[Revolution], times_ns: Sequence[int]) -> np.ndarray:
    times = np.array(times_ns, np.int64)
    inside = np.zeros(len(times), np.bool_)
    for revolution in revolutions:
        inside |= (times >= revolution.start_ns) & (times < revolution.end_ns)
    return inside


def _channel_envelope(
    channel: Channel, good: Sequence[Revolution], centres: FloatArray
) -> Envelope:
    columns = list(channels.COLUMNS[channel])
    means = np.array([r.means for r in good])[:, columns]
    spreads = np.array([channels.channel_size(channel, r.spreads) for r in good])
    is_angle = channel in ANGLE_CHANNELS
    tol = DEFAULT_TOLERANCE[channel] / (1.0 if is_angle else NOMINAL_THIGH_MM)
    shape = SHAPE_FACTOR * float(np.percentile(np.abs(spreads), SHAPE_PERCENTILE))
    return Envelope(
        channel,
        "deg" if is_angle else "thigh",
        tol,
        channel not in ADVISORY_BY_DEFAULT,
        math.sqrt(float(np.sum(np.var(means, axis=0, ddof=1)))),
        max(shape, SHAPE_LEAST * tol),
        channel in SHAPE_REQUIRED_BY_DEFAULT,
        tuple(tuple(float(c) for c in centres[:, column]) for column in columns),
    )
