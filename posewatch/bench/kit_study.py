"""Sticker dots beside landmarks: how exact they are, and how far other clothes move either."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from posewatch.bench import scores, study_scores
from posewatch.bench.rides import (
    Recording,
    Yardstick,
    record,
    run_measured,
    truth_of,
    yardstick,
)
from posewatch.bench.tables import Row, at_most
from posewatch.bench.truth import exact_tracking
from posewatch.core.landmarks import ANKLE, HIP, JOINTS, KNEE, LANDMARKS, SHOULDER
from posewatch.core.records import NS_PER_S, Side
from posewatch.demo import Reference

Progress = Callable[[str, int, int], None]

KIT_REFERENCE = "kit_reference"
KITS = (
    "kit_light_shorts",
    "kit_patterned_shorts",
    "kit_long_tights",
    "kit_loose_shorts",
    "kit_other_jersey",
)
SETTLED_NS = 2 * NS_PER_S
#: A change of kit should not move more: degrees, mm.
TORSO_AIM_DEG, HIP_AIM_MM = 0.5, 3.0


@dataclass(frozen=True, slots=True)
class Means:
    """Means over a clip's whole strokes."""

    torso_deg: float
    knee_deg: float
    hip_along_mm: float
    hip_up_mm: float


def dot_rows(model: str | None, progress: Progress) -> list[Row]:
    """Return how exact dots are on a clip of their own."""
    reference = record("dots_reference", model, progress, dots=True)
    yard = yardstick(Reference("dots_reference", "hoods"), reference)
    steady = record("dots_steady", model, progress, dots=True)
    truth = truth_of("dots_steady", Side.RIGHT)
    exact = exact_tracking(truth, steady.plane)
    run = run_measured(steady.frames, yard.target, steady.plane)
    kept = [i for i, t in enumerate(run.tracked) if t.t_ns >= SETTLED_NS and t.body.seen]
    off_px = {
        joint: np.array(
            [
                steady.frames[i].points_px[LANDMARKS[Side.RIGHT][joint]] - truth.points_px[i, joint]
                for i in kept
            ]
        )
        for joint in (SHOULDER, HIP, KNEE, ANKLE)
    }
    rows = [
        at_most(
            f"dots: {JOINTS[joint]} against the joint's centre, error SD, larger axis",
            float(off_px[joint].std(axis=0).max()),
            0.5,
            "px",
        )
        for joint in off_px
    ]
    measured = run.series(yard.target.place_scale)
    angles = np.array([t.crank.angle_rad for t in exact])
    errors = scores.angle_errors_deg(measured, scores.Series(truth.t_ns, angles, measured.values))
    knee = np.array(
        [run.tracked[i].body.knee_flexion_deg - exact[i].body.knee_flexion_deg for i in kept]
    )
    left = study_scores.remainder_sd(knee, angles[kept])
    return [
        *rows,
        at_most("dots: crank angle, error SD", float(errors.std()), 1.0, "deg"),
        Row("dots: knee error, SD; not locked to the crank", f"{knee.std():.2f}; {left:.2f} deg"),
    ]


def kit_rows(yard: Yardstick, model: str | None, progress: Progress) -> list[Row]:
    """Return how far other clothes move torso, knee and hip of the same ride."""
    dotted = yardstick(
        Reference("dots_reference", "hoods"),
        record("dots_reference", model, progress, dots=True),
    )
    rows = []
    for name, with_dots, own in (("landmarks", False, yard), ("dots", True, dotted)):
        usual = _means(record(KIT_REFERENCE, model, progress, dots=with_dots), own)
        for clip in KITS:
            one = _means(record(clip, model, progress, dots=with_dots), own)
            torso = one.torso_deg - usual.torso_deg
            hip_mm = np.hypot(
                one.hip_along_mm - usual.hip_along_mm, one.hip_up_mm - usual.hip_up_mm
            )
            rows.append(
                Row(
                    f"other kit, {name}: {clip.removeprefix('kit_').replace('_', ' ')}",
                    f"torso {torso:+.2f} deg, knee {one.knee_deg - usual.knee_deg:+.2f} deg, "
                    f"hip {hip_mm:.1f} mm",
                    f"torso {TORSO_AIM_DEG:g} deg, hip {HIP_AIM_MM:g} mm",
                    abs(torso) <= TORSO_AIM_DEG and bool(hip_mm <= HIP_AIM_MM),
                )
            )
    return rows


def _means(recording: Recording, yard: Yardstick) -> Means:
    run = run_measured(recording.frames, yard.target, recording.plane)
    series = run.series(yard.target.place_scale)
    whole = [
        r.means
        for r in scores.revolutions(series)
        if r.start_ns >= SETTLED_NS and all(reason is None for reason in r.reasons[:5])
    ]
    torso, knee, _, along, up = np.mean(whole, axis=0)[:5]
    return Means(float(torso), float(knee), float(along), float(up))
