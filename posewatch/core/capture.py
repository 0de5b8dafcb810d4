"""A target envelope from recordings of the rider in the fitted position.

The ankle's circle and its map to the crank angle are learned first, then the leg's curves, then the
centre curves from the strokes that are alike; strokes unlike the others are dropped and counted. A
recording falls into sits where the rider leaves the saddle and sits down anew.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from posewatch.core import channels, crank, harmonics, leg_chain, pedal_circle, tracking
from posewatch.core.envelope import (
    SITS_WANTED,
    LengthUnit,
    Segments,
    Target,
    Unit,
    length_unit,
)
from posewatch.core.landmarks import ANKLE, HIP, KNEE, SHOULDER
from posewatch.core.leg_chain import LegCurves
from posewatch.core.measuring_chain import MeasuringChain
from posewatch.core.pedal_circle import TURN, CrankGeometry
from posewatch.core.plane import YAW_REFUSED_DEG, PlaneMap
from posewatch.core.records import BODY_CHANNELS, FloatArray, Frame
from posewatch.core.sits import Sit, part_into_sits
from posewatch.core.spreads import channel_envelope
from posewatch.core.timebase import to_s
from posewatch.core.tracking import Tracked, TrackState
from posewatch.errors import BadInput

#: Strokes for a stable mean curve: 38 in elite riders (Williams et al. 2025, Sports Biomech 24(9)).
MIN_STROKES = 38
#: With three sits so many of each do; together they are more, and tell what a fresh sit adds.
MIN_STROKES_A_SIT = 20
CURVE_ORDER = 6
#: Fewer believed ankles than this cannot be three turns of pedalling.
MIN_ANKLES = 24
GEOMETRY_ROUNDS = 3
CENTRE_ROUNDS = 3

Parts = Sequence[Sequence[Tracked]]


@dataclass(frozen=True, slots=True)
class Subject:
    """Whose position it is: rider, bike and hand position, as the fitter calls them."""

    rider: str
    bike: str
    hands: str
    note: str = ""
    author: str = ""


def capture(
    recordings: Sequence[Sequence[Frame]],
    chain: MeasuringChain,
    plane: PlaneMap | None,
    subject: Subject,
    source: str,
) -> Target:
    """Return the target of one or more recordings, version 0.

    Args:
        recordings: each with times rising; a new recording is a new sit.
        chain: the chain that made the frames; it also holds the picture's size.
        plane: the calibrated camera's, None = uncalibrated.
        subject: rider, bike, hand position.
        source: the recordings' name, for messages.

    Raises:
        BadInput: nobody, nobody pedals, too few good strokes, or a view too far from square.
    """
    _require_square(plane)
    state = tracking.start(chain, plane)
    parts = _track(recordings, state)
    if not any(t.body.seen for part in parts for t in part):
        raise BadInput(
            f"No rider is seen in {source}.",
            "Check that the whole near side of the rider is in the picture and well lit.",
        )
    geometry = None
    for _ in range(GEOMETRY_ROUNDS):
        geometry = _learn_geometry(parts, geometry, state.watched.pedal_row)
        if geometry is None:
            raise BadInput(
                f"Nobody pedals in {source}, or not for three whole turns.",
                "Record at least 40 strokes of steady pedalling, seen square from the side.",
            )
        parts = _track(recordings, tracking.with_geometry(state, geometry))
    assert geometry is not None
    leg = _learn_leg(parts)
    parts = _track(recordings, tracking.with_geometry(state, geometry, leg))
    return envelope_of(parts, geometry, leg, chain, subject, source)


def _require_square(plane: PlaneMap | None) -> None:
    yaw = 0.0 if plane is None else plane.profile.view.yaw_deg
    if abs(yaw) > YAW_REFUSED_DEG:
        raise BadInput(
            f"The camera is turned by {yaw:+.1f} degrees from square to the bike; no target is "
            f"captured beyond {YAW_REFUSED_DEG:g}.",
            "Turn it square, and run `posewatch camera level` again.",
        )


def _track(recordings: Sequence[Sequence[Frame]], state: TrackState) -> list[list[Tracked]]:
    parts = []
    for frames in recordings:
        now, part = state, []
        for frame in frames:
            now, tracked = tracking.step(now, frame)
            part.append(tracked)
        parts.append(part)
    return parts


def _turning(part: Sequence[Tracked]) -> list[Tracked]:
    """Return the pictures from which something may be learned of the leg."""
    return [
        t
        for t in part
        if t.crank.measured and t.body.seen and t.crank.speed_rad_s > crank.FROZEN_BELOW_RAD_S
    ]


def _learn_geometry(
    parts: Parts, before: CrankGeometry | None, pedal_row: int
) -> CrankGeometry | None:
    """Return the ankle's centre over the crank angle, and the map about that centre."""
    tables = [
        np.array([(to_s(t.t_ns), t.crank.angle_rad, *t.body.points[pedal_row]) for t in turning])
        for part in parts
        if len(turning := _turning(part)) >= MIN_ANKLES
    ]
    if not tables:
        return None
    table = np.concatenate(tables)
    centre = harmonics.fit(table[:, 1], table[:, 2:], pedal_circle.MAP_ORDER)[0]
    off = table[:, 2:] - centre
    radius = float(np.hypot(off[:, 0], off[:, 1]).mean())
    rides = []
    for one in tables:
        angle = np.arctan2(*(one[:, 2:] - centre).T)
        # The filter's count of turns keeps the circle's angle from slipping a turn over a gap.
        turns = np.round((one[:, 1] - angle) / TURN)
        rides.append((angle + TURN * turns, one[:, 0]))
    try:
        angle_map = pedal_circle.learn_map(rides)
    except ValueError:
        return None
    return CrankGeometry(float(centre[0]), float(centre[1]), radius, angle_map)


def _learn_leg(parts: Parts) -> LegCurves:
    turning = [t for part in parts for t in _turning(part)]
    angles = np.array([t.crank.angle_rad for t in turning])
    points = np.array([t.body.points[tracking.LEG] for t in turning])
    return leg_chain.learn(angles, points, _segments(parts).thigh)


def envelope_of(
    parts: Parts,
    geometry: CrankGeometry,
    leg: LegCurves,
    chain: MeasuringChain,
    subject: Subject,
    source: str,
) -> Target:
    """Return the target of tracked pictures whose circle, map and leg are known; as for capture."""
    segments = _segments(parts)
    unit = length_unit(chain)
    place_unit = Unit.MM if unit is LengthUnit.MM else Unit.THIGH
    scale = 1.0 if unit is LengthUnit.MM else 1.0 / segments.thigh
    kept = [[t for t in part if t.crank.known] for part in parts]
    values = [np.array([channels.measured_values(t, scale) for t in part]) for part in kept if part]
    kept = [part for part in kept if part]
    used = [np.isfinite(v[:, : channels.N_JUDGED]).all(axis=1) for v in values]
    sits: list[Sit] = []
    for _ in range(CENTRE_ROUNDS):
        if sum(np.count_nonzero(u) for u in used) < MIN_STROKES:
            break
        centres = _centres(kept, values, used)
        sits, inside = [], []
        for part, table in zip(kept, values, strict=True):
            angles = np.array([t.crank.angle_rad for t in part])
            curve = harmonics.evaluate(centres, angles)
            hips = np.array([t.body.hip for t in part]) * scale
            hip_off = hips - curve[:, list(channels.HIP_COLUMNS)]
            found = part_into_sits(part, table - curve, hip_off, place_unit.nominal)
            sits += found
            inside.append(
                _inside(found, part) & np.isfinite(table[:, : channels.N_JUDGED]).all(axis=1)
            )
        used = inside
    _require_strokes(sits, source)
    side = next(t.side for part in reversed(parts) for t in reversed(part) if t.side is not None)
    good = [r for sit in sits for r in sit.good]
    return Target(
        subject.rider,
        subject.bike,
        subject.hands,
        0,
        chain,
        side,
        tuple(channel_envelope(channel, sits, centres, place_unit) for channel in BODY_CHANNELS),
        unit,
        geometry,
        leg,
        segments,
        tuple(len(sit.good) for sit in sits),
        sum(sit.n_known for sit in sits) - len(good),
        60.0 / float(np.median([to_s(r.end_ns - r.start_ns) for r in good])),
        subject.author,
        note=subject.note,
    )


def _require_strokes(sits: Sequence[Sit], source: str) -> None:
    counts = [len(sit.good) for sit in sits]
    whole = sum(n >= MIN_STROKES_A_SIT for n in counts)
    if whole < SITS_WANTED and sum(counts) < MIN_STROKES:
        raise BadInput(
            f"Only {sum(counts)} good strokes were found in {source}, in {len(counts)} sits; "
            f"{SITS_WANTED} sits of {MIN_STROKES_A_SIT}, or one of {MIN_STROKES}, are needed.",
            "Record the fitted position at a steady 60 to 110 rpm; leave the saddle and sit down "
            "again between sits.",
        )


def _centres(parts: Parts, values: Sequence[FloatArray], used: Sequence[np.ndarray]) -> FloatArray:
    """Return the centre curves of the used pictures; the checks' curves are their angles'."""
    angles = np.concatenate(
        [
            np.array([t.crank.angle_rad for t in part])[u]
            for part, u in zip(parts, used, strict=True)
        ]
    )
    table = np.concatenate([v[u, : channels.N_JUDGED] for v, u in zip(values, used, strict=True)])
    centres = harmonics.fit(angles, table, CURVE_ORDER)
    checks = [channels.COLUMNS[channel][0] for channel in channels.CHECK_COLUMNS]
    return np.column_stack((centres, centres[:, checks]))


def _segments(parts: Parts) -> Segments:
    points = np.array([t.body.points for part in parts for t in part if t.body.seen])
    pairs = ((SHOULDER, HIP), (HIP, KNEE), (KNEE, ANKLE))
    steps = [points[:, a] - points[:, b] for a, b in pairs]
    return Segments(*(float(np.median(np.hypot(s[:, 0], s[:, 1]))) for s in steps))


def _inside(sits: Sequence[Sit], part: Sequence[Tracked]) -> np.ndarray:
    times = np.array([t.t_ns for t in part], np.int64)
    inside = np.zeros(len(times), np.bool_)
    for sit in sits:
        for revolution in sit.good:
            inside |= (times >= revolution.start_ns) & (times < revolution.end_ns)
    return inside
