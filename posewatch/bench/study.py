"""The study clips: small changes, kit, view, rates, hidden hips, and scenes without a rider."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from posewatch.bench import study_scores
from posewatch.bench.rides import (
    SUBJECT,
    Run,
    Yardstick,
    record,
    run_exact,
    run_measured,
    truth_of,
)
from posewatch.bench.scores import Series
from posewatch.bench.study_scores import SITTING, TORSO, Event
from posewatch.bench.tables import Row, between
from posewatch.bench.truth import exact_tracking
from posewatch.core import channels
from posewatch.core.angles import body_angles
from posewatch.core.capture import capture
from posewatch.core.landmarks import ANKLE, HIP, KNEE, SHOULDER
from posewatch.core.records import NS_PER_S, Channel, FloatArray

Progress = Callable[[str, int, int], None]

SMALL_CHANGES = "hoods_small_changes"
YAWS = ("yaw_0", "yaw_5", "yaw_10", "yaw_15")
#: Scenes in which nobody rides, or nobody may be believed to.
NOBODY_RIDES = (
    "hidden_legs",
    "beside_bike",
    "half_body_above",
    "half_body_below",
    "poster",
    "three_quarter",
)
HIDDEN_HIP = "arms_before_hip"
SETTLED_NS = 2 * NS_PER_S


@dataclass(frozen=True, slots=True, eq=False)
class Pair:
    """One clip, watched and exact, over the same pictures."""

    run: Run
    exact_run: Run
    events: tuple[str, ...]
    t_ns: np.ndarray


def pair(clip: str, yard: Yardstick, model: str | None, progress: Progress) -> Pair:
    """Watch a clip against a yardstick's targets."""
    recording = record(clip, model, progress)
    truth = truth_of(clip, yard.side)
    exact = exact_tracking(truth, recording.plane)
    return Pair(
        run_measured(recording.frames, yard.target, recording.plane),
        run_exact(exact, yard.exact),
        truth.events,
        truth.t_ns,
    )


def small_change_rows(yard: Yardstick, model: str | None, progress: Progress) -> list[Row]:
    """Return the detection table and the slopes of small changes."""
    both = pair(SMALL_CHANGES, yard, model, progress)
    measured = both.run.series(yard.target.place_scale)
    exact = both.exact_run.series(yard.exact.place_scale)
    every = study_scores.events(both.t_ns, both.events)
    rows = []
    for event in every:
        found = study_scores.detect(measured, event)
        known = study_scores.detect(exact, event)
        rows.append(
            Row(
                f"detected: {event.name}",
                f"{_after(found)}; on exact joints {_after(known)}",
                "within 10 strokes" if "slides forward 5" in event.name else "",
                found.after_strokes is not None and found.after_strokes <= 10
                if "slides forward 5" in event.name
                else None,
            )
        )
    for column, name, sizes in ((TORSO, "torso", (2.0, 3.0, 5.0)), (SITTING, "hip", (5.0, 10.0))):
        unit = "deg" if column == TORSO else "mm"
        counts = [study_scores.false_detections(measured, every, column, size) for size in sizes]
        told = ", ".join(f"{n} at {size:g} {unit}" for n, size in zip(counts, sizes, strict=True))
        rows.append(Row(f"detected where nothing changed, {name}", told))
    for column, name, goal in (
        (TORSO, "torso", (0.85, 1.15)),
        (SITTING, "sitting place", (0.9, 1.1)),
    ):
        steps = [e for e in every if e.column == column and "creeps" not in e.name]
        rows.append(
            between(
                f"{name}, small changes read per change",
                _slope(measured, exact, steps, column),
                *goal,
            )
        )
    return rows


def _after(found: study_scores.Detection) -> str:
    return "missed" if found.after_strokes is None else f"after {found.after_strokes} strokes"


def _slope(measured: Series, exact: Series, every: Sequence[Event], column: int) -> float:
    """Return the change measured per exact change, through zero."""
    seen = study_scores.changes(measured, every, column)
    true = study_scores.changes(exact, every, column)
    return float(seen @ true / (true @ true))


def yaw_rows(yard: Yardstick, model: str | None, progress: Progress) -> list[Row]:
    """Return how far a turned camera moves torso and knee, in the bike plane and in the picture."""
    rows = []
    first: tuple[FloatArray, FloatArray] | None = None
    for clip in YAWS:
        recording = record(clip, model, progress)
        truth = truth_of(clip, yard.side)
        run = run_measured(recording.frames, yard.target, recording.plane)
        kept = [i for i, t in enumerate(run.tracked) if t.body.seen and t.t_ns >= SETTLED_NS]
        plane = np.array(
            [(run.tracked[i].body.torso_deg, run.tracked[i].body.knee_flexion_deg) for i in kept]
        )
        exact = exact_tracking(truth, recording.plane)
        true = np.array([(exact[i].body.torso_deg, exact[i].body.knee_flexion_deg) for i in kept])
        picture = _picture_angles(truth.points_px)[kept]
        off = plane.mean(axis=0) - true.mean(axis=0)
        skew = picture.mean(axis=0) - true.mean(axis=0)
        if first is None:
            first = off, skew
        rows.append(
            Row(
                f"camera at {clip.replace('_', ' ')} degrees, torso and knee moved",
                f"{_pair_text(off - first[0])} in the bike plane; exact joints in the picture "
                f"{_pair_text(skew - first[1])}",
            )
        )
    return rows


def _picture_angles(points_px: FloatArray) -> FloatArray:
    """Return torso and knee of exact joints as they look in the picture, (n, 2)."""
    points = points_px * (1.0, -1.0)
    angles = body_angles(*(points[:, joint] for joint in (SHOULDER, HIP, KNEE, ANKLE)))
    return np.stack((angles.torso_deg, angles.knee_flexion_deg), axis=1)


def _pair_text(values: FloatArray) -> str:
    return f"{values[0]:+.1f} and {values[1]:+.1f} deg"


def nobody_rows(yard: Yardstick, model: str | None, progress: Progress) -> list[Row]:
    """Return what was counted where nobody rides."""
    rows = []
    for clip in NOBODY_RIDES:
        recording = record(clip, model, progress)
        run = run_measured(recording.frames, yard.target, recording.plane)
        n = run.tally.n_strokes
        rows.append(Row(f"{clip.replace('_', ' ')}, counted strokes", str(n), "0", n == 0))
    return rows


def hidden_hip_rows(yard: Yardstick, model: str | None, progress: Progress) -> list[Row]:
    """Return what is said of a hip behind an arm."""
    both = pair(HIDDEN_HIP, yard, model, progress)
    hidden = [i for i, name in enumerate(both.events) if name]
    carried = [t.leg is not None and t.leg.carried for t in both.run.tracked]
    seen = [both.run.tracked[i].body.seen for i in hidden]
    off = []
    for i in hidden:
        tracked, exact = both.run.tracked[i], both.exact_run.tracked[i]
        if carried[i] and tracked.leg is not None:
            off.append(np.hypot(*(tracked.leg.points[0] - exact.body.points[HIP])))
    far = f", {np.median(off):.0f} mm from the exact one" if off else ""
    share = f"believed in {np.mean(seen):.0%} of pictures, carried in {len(off) / len(hidden):.0%}"
    return [Row("hip behind an arm", share + far)]


def sits_rows(yard: Yardstick, model: str | None, progress: Progress) -> list[Row]:
    """Return the sits found in the clip of three, and what a fresh sit adds."""
    recording = record("three_sits", model, progress)
    target = capture([recording.frames], recording.chain, recording.plane, SUBJECT, "three_sits")
    torso, place = (target.envelope(c).resit_sd for c in (Channel.TORSO, Channel.SITTING_PLACE))
    told = " + ".join(str(n) for n in target.sits)
    spread = (
        "" if torso is None else f"; a fresh sit moves torso {torso:.2f} deg, place {place:.1f} mm"
    )
    return [
        Row(
            "sits found in one recording",
            f"{told} strokes{spread}",
            "3 of 20 or more",
            len(target.sits) == 3 and min(target.sits) >= 20,
        )
    ]


def chain_rows(pairs: dict[str, tuple[Run, Run]]) -> list[Row]:
    """Return how much of the knee's error that is not locked to the crank the leg's chain removes.

    pairs: measured and exact runs of clips.
    """
    rows = []
    check = channels.CHECK_COLUMNS[Channel.KNEE]
    for clip, (run, exact) in pairs.items():
        values = np.array([channels.measured_values(t, 1.0) for t in run.tracked])
        true = np.array([t.body.knee_flexion_deg for t in exact.tracked])
        angles = np.array([t.crank.angle_rad for t in exact.tracked])
        settled = np.array([t.t_ns >= SETTLED_NS and t.crank.measured for t in run.tracked])
        both = settled & np.isfinite(values[:, check])
        raw, chain = (
            study_scores.remainder_sd((values[:, column] - true)[both], angles[both])
            for column in (1, check)
        )
        rows.append(
            Row(
                f"knee error not locked to the crank, raw and chain, {clip}",
                f"{raw:.2f} and {chain:.2f} deg ({chain / raw - 1:+.0%})",
                "at least 30 % lower",
                chain <= 0.7 * raw,
            )
        )
    return rows
