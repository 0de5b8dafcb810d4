"""How exact the chain is on the shipped clips, beside what it must reach.

Geometry (the ankle's circle, its map, the centre curves) is learned on a reference clip, or the
reference part of a clip, and scored on other clips, or the other part. Constant offsets between a
rendered joint centre and a pose model's landmark are expected; changes and spreads are scored.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from posewatch.bench import kit_study, scores, study
from posewatch.bench.hold_scores import HoldScore, score_hold
from posewatch.bench.rides import (
    Recording,
    Run,
    Yardstick,
    record,
    references,
    run_exact,
    run_measured,
    truth_of,
    yardstick,
)
from posewatch.bench.tables import Row, at_least, at_most, between
from posewatch.bench.truth import Truth, exact_tracking
from posewatch.core.records import Channel, FloatArray
from posewatch.core.timebase import to_ns
from posewatch.errors import BadInput

TORSO, KNEE = 0, 1
STEADY = (
    "hoods_steady",
    "drops_steady",
    "left_side_steady",
    "dark_kit_dim_room",
    "camera_25_fps",
    "camera_60_fps",
)
#: Which reference each clip is watched against.
REFERENCE_OF = {
    "hoods_steady": "hoods_reference",
    "hoods_drift": "hoods_reference",
    "hoods_interruptions": "hoods_reference",
    "saddle_high": "hoods_reference",
    "saddle_low": "hoods_reference",
    "walks_past": "hoods_reference",
    "empty_bike": "hoods_reference",
    "drops_steady": "drops_reference",
    "left_side_steady": "left_side_steady",
    "dark_kit_dim_room": "dark_kit_dim_room",
    "camera_25_fps": "camera_25_fps",
    "camera_60_fps": "camera_60_fps",
}
#: drops_steady begins on the hoods; its hands are in the drops from here on.
IN_THE_DROPS_S = 3.5
#: Clips in which a rider in band leaves it, so that the moment of the cue means something.
LEAVING = ("hoods_drift", "hoods_interruptions")


@dataclass(frozen=True, slots=True, eq=False)
class Scored:
    """One clip, measured and exact, over the part that may be scored."""

    clip: str
    measured: scores.Series
    exact: scores.Series
    means: tuple[FloatArray, FloatArray]
    yard: Yardstick
    truth: Truth
    run: Run
    exact_run: Run
    hold: HoldScore


def measure(model: str | None, progress: Callable[[str, int, int], None]) -> list[Row]:
    """Return the whole table. model: None = the recorded landmarks, else run this one."""
    scored, refused = score_clips(model, progress)
    yard = scored["hoods_steady"].yard
    return [
        *refused,
        *table(scored),
        *study.chain_rows({c: (scored[c].run, scored[c].exact_run) for c in _steady(scored)}),
        *study.small_change_rows(yard, model, progress),
        *study.sits_rows(yard, model, progress),
        *study.yaw_rows(yard, model, progress),
        *study.hidden_hip_rows(yard, model, progress),
        *study.nobody_rows(yard, model, progress),
        *kit_study.dot_rows(model, progress),
        *kit_study.kit_rows(yard, model, progress),
    ]


def score_clips(
    model: str | None, progress: Callable[[str, int, int], None]
) -> tuple[dict[str, Scored], list[Row]]:
    """Run the clips of riding. model: None = the recorded landmarks, else run this one.

    Returns:
        the clips that could be scored, and a row for each reference that gave no target (a weaker
        model does not find strokes enough everywhere).
    """
    recordings: dict[str, Recording] = {}

    def recording(clip: str) -> Recording:
        if clip not in recordings:
            recordings[clip] = record(clip, model, progress)
        return recordings[clip]

    yards: dict[str, Yardstick] = {}
    refused: list[Row] = []
    for clip, reference in references().items():
        try:
            yards[clip] = yardstick(reference, recording(clip))
        except BadInput as error:
            refused.append(Row(f"target, {clip}", f"none: {error.what}", "a target", False))
    scored = {
        clip: _score(clip, recording(clip), yards[reference])
        for clip, reference in REFERENCE_OF.items()
        if reference in yards
    }
    return scored, refused


def _steady(scored: Mapping[str, Scored]) -> list[str]:
    return [clip for clip in STEADY if clip in scored]


def _score(clip: str, recording: Recording, yard: Yardstick) -> Scored:
    truth = truth_of(clip, yard.side)
    own = clip == yard.reference.clip
    begin_s = (yard.reference.end_s or 0.0) if own else 0.0
    frames = [f for f in recording.frames if f.t_ns >= to_ns(begin_s)]
    exact = [t for t in exact_tracking(truth, recording.plane) if t.t_ns >= to_ns(begin_s)]
    run = run_measured(frames, yard.target, recording.plane)
    exact_run = run_exact(exact, yard.exact)
    if clip == "drops_steady":
        begin_s = IN_THE_DROPS_S
    measured_series = _from(run.series(yard.target.place_scale), begin_s)
    exact_series = _from(exact_run.series(yard.exact.place_scale), begin_s)
    return Scored(
        clip,
        measured_series,
        exact_series,
        scores.paired_means(measured_series, exact_series),
        yard,
        truth,
        run,
        exact_run,
        score_hold(run.outputs, exact_run.outputs, truth.events),
    )


def _from(series: scores.Series, begin_s: float) -> scores.Series:
    kept = series.t_ns >= to_ns(begin_s)
    return scores.Series(series.t_ns[kept], series.angle_rad[kept], series.values[kept])


def table(scored: dict[str, Scored]) -> list[Row]:
    """Return the accuracy table."""
    return [
        *_angle_rows(scored),
        *_crank_rows(scored),
        *_hold_rows(scored),
    ]


def _angle_rows(scored: dict[str, Scored]) -> list[Row]:
    rows = [
        at_most(
            f"torso, revolution mean, error SD, {clip}", _spread(scored[clip], TORSO), 0.3, "deg"
        )
        for clip in _steady(scored)
    ]
    drift = scored["hoods_drift"].means
    rows.append(
        between(
            "torso, change read per change",
            scores.slope(drift[0][:, TORSO], drift[1][:, TORSO]),
            0.85,
            1.15,
        )
    )
    heights = [scored[clip].means for clip in ("saddle_low", "hoods_steady", "saddle_high")]
    measured, exact = (np.array([m[side][:, KNEE].mean() for m in heights]) for side in (0, 1))
    rows.append(at_least("knee, change read per change", scores.slope(measured, exact), 0.85))
    for clip, most in (("hoods_steady", 1.0), ("hoods_drift", 1.5)):
        error = _extension_error(scored[clip])
        rows.append(
            at_most(f"knee at maximum extension, error SD, {clip}", float(error.std()), most, "deg")
        )
    offsets = scored["hoods_steady"].means
    for name, column in (("torso", TORSO), ("knee", KNEE)):
        off = float((offsets[0] - offsets[1])[:, column].mean())
        rows.append(Row(f"{name}, constant offset (expected)", f"{off:+.1f} deg", "", None))
    return rows


def _spread(scored: Scored, column: int) -> float:
    return float((scored.means[0] - scored.means[1])[:, column].std())


def _extension_error(scored: Scored) -> FloatArray:
    """Return measured minus exact smallest knee flexion, stroke by stroke."""
    measured, exact = (
        scores.smallest_flexion_deg(series, target.envelope(Channel.KNEE).centre[0], KNEE)
        for series, target in (
            (scored.measured, scored.yard.target),
            (scored.exact, scored.yard.exact),
        )
    )
    nearest = [int(np.argmin(np.abs(exact[:, 0] - end))) for end in measured[:, 0]]
    return measured[:, 1] - exact[nearest, 1]


def _crank_rows(scored: dict[str, Scored]) -> list[Row]:
    rows = []
    largest = 0.0
    turning = [c for c in scored if c not in ("empty_bike", "hoods_interruptions")]
    for clip in turning:
        errors = scores.angle_errors_deg(scored[clip].measured, scored[clip].exact)
        rows.append(at_most(f"crank angle, error SD, {clip}", float(errors.std()), 3.5, "deg"))
        largest = max(largest, float(np.abs(errors).max()))
    rows.append(at_most("crank angle, largest error", largest, 15.0, "deg"))
    worst = max(
        float(np.abs(errors).max(initial=0.0))
        for clip in turning
        for errors in [scores.cadence_errors_rpm(scored[clip].measured, scored[clip].exact)]
    )
    rows.append(at_most("cadence over any 10 s, largest error", worst, 0.4, "rpm"))
    return rows


def _hold_rows(scored: dict[str, Scored]) -> list[Row]:
    rows = []
    for clip, one in scored.items():
        hold = one.hold
        ok = hold.is_within_limits
        figure = (
            f"{hold.n_counted} in position, exact {hold.n_counted_exact}; boundaries within "
            f"{hold.worst_boundary_s:.1f} s; {hold.n_false} false"
        )
        rows.append(Row(f"hold, {clip}", figure, "2 an event; 1 s or a stroke; 0 false", ok))
    late = [delay for clip in LEAVING for delay in scored[clip].hold.cue_delays_strokes]
    rows.append(at_most("cue after the true value passes, latest", max(late), 2.0, "strokes"))
    false = sum(scored[clip].hold.n_cues for clip in _steady(scored) if clip != "drops_steady")
    rows.append(Row("false cues on steady clips", str(false), "0", false == 0))
    steady = scored["hoods_steady"]
    share = steady.hold.n_counted / steady.hold.n_strokes_exact
    rows.append(Row("yield, hoods_steady", f"{share:.0%}", "at least 85%", share >= 0.85))
    nobody = scored["empty_bike"].hold.n_counted
    rows.append(Row("nobody, counted strokes", str(nobody), "0", nobody == 0))
    return rows


def all_reached(rows: Sequence[Row]) -> bool:
    """Tell whether every row that has a goal reached it."""
    return all(row.reached is not False for row in rows)
