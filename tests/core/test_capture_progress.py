"""Counting usable strokes by sit while a capture is under way."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from linkage_rider import CHAIN, Pose, ride

from posewatch.bench.truth import read_truth
from posewatch.core import capture_progress, tracking
from posewatch.core.capture import Subject, capture
from posewatch.core.capture_progress import CaptureProgress
from posewatch.core.measuring_chain import UNCALIBRATED, MeasuringChain
from posewatch.core.pedal_circle import TURN
from posewatch.core.records import Frame, Side
from posewatch.pose.recorded import RecordedLandmarks

CLIPS = Path(__file__).parents[2] / "demo_clips"
#: A turn is seen before there is a circle, and half a one before the first top.
FIRST_LOST = 3


def counted(
    frames: Iterable[Frame], chain: MeasuringChain = CHAIN
) -> tuple[CaptureProgress, list[tuple[float, str]]]:
    """Return the count at the end, and when (s) which reason was given."""
    state, now = tracking.start(chain, None), capture_progress.start()
    said: list[tuple[float, str]] = []
    for frame in frames:
        state, tracked = tracking.step(state, frame)
        now = capture_progress.step(now, tracked)
        if not said or said[-1][1] != now.why:
            said.append((frame.t_ns / 1e9, now.why))
    return now, said


def of_clip(name: str) -> tuple[list[Frame], MeasuringChain]:
    recorded = RecordedLandmarks(CLIPS / "landmarks" / f"{name}.landmarks.npz")
    info, model = recorded.info, recorded.model
    chain = MeasuringChain(
        UNCALIBRATED, info.width_px, info.height_px, info.rate_hz, model.name, model.sha256,
        model.library, 1,
    )  # fmt: skip
    return list(recorded), chain


@cache
def progress_of_clip(name: str) -> tuple[CaptureProgress, list[tuple[float, str]]]:
    return counted(*of_clip(name))


def ridden(
    seconds: float,
    pose_at: Callable[[float, float], Pose] | None = None,
    rpm: float = 90.0,
    facing: int = 1,
) -> tuple[CaptureProgress, list[tuple[float, str]]]:
    return counted(ride(seconds, pose_at, rpm, facing=facing))


def standing(crank_deg: float) -> Pose:
    return Pose(crank_deg, hip_m=(0.12, 0.03), torso_deg=38.0)


def at(said: list[tuple[float, str]], t_s: float) -> str:
    """Return the reason given at a time."""
    return next(why for begun_s, why in reversed(said) if begun_s <= t_s)


def whole_turns(name: str) -> list[int]:
    """Return how often the exact crank went round from top to top between the clip's events."""
    truth = read_truth(CLIPS / f"{name}.truth.csv", Side.RIGHT)
    quiet = np.array([event == "" for event in truth.events])
    edges = np.flatnonzero(np.diff(np.concatenate(([0], quiet.astype(int), [0]))))
    turns = truth.angle_rad / TURN
    return [
        int(np.floor(turns[end - 1]) - np.ceil(turns[begin]))
        for begin, end in zip(edges[::2], edges[1::2], strict=True)
    ]


@pytest.mark.parametrize("name", ["three_sits", "hoods_reference", "drops_reference"])
def test_a_clips_sits_are_counted_within_three_strokes_of_its_exact_crank(name: str) -> None:
    now, _ = progress_of_clip(name)
    exact = whole_turns(name)
    assert len(now.sits) == len(exact)
    assert now.sits == pytest.approx(exact, abs=3)
    assert now.n_strokes == sum(now.sits)


@pytest.mark.parametrize("name", ["three_sits", "hoods_interruptions"])
def test_a_clips_sits_are_counted_within_three_strokes_of_its_capture(name: str) -> None:
    frames, chain = of_clip(name)
    target = capture([frames], chain, None, Subject("rider", "bike", "hoods"), name)
    now, _ = progress_of_clip(name)
    assert len(now.sits) == len(target.sits)
    assert now.sits == pytest.approx(target.sits, abs=3)


def test_three_sits_are_enough_and_tell_what_a_fresh_one_adds() -> None:
    now, said = progress_of_clip("three_sits")
    assert now.has_all_sits
    assert now.is_enough
    # The rider is out of the saddle from 20 and from 41 s (the clips' own table).
    assert at(said, 21.0) == "out of the saddle"
    assert at(said, 10.0) == at(said, 30.0) == at(said, 60.0) == ""


def test_one_sit_of_38_is_enough_without_all_sits() -> None:
    now, _ = progress_of_clip("hoods_reference")
    assert now.is_enough
    assert not now.has_all_sits
    fewer, _ = ridden(20.0)
    assert fewer.n_strokes < 38
    assert not fewer.is_enough


@pytest.mark.parametrize("facing", [1, -1])
def test_even_pedalling_loses_but_the_first_turns(facing: int) -> None:
    now, said = ridden(20.0, facing=facing)
    assert 30 - FIRST_LOST <= now.n_strokes <= 30
    assert said[-1] == (pytest.approx(1.2, abs=1.0), "")


@pytest.mark.parametrize(
    "name", ["empty_bike", "beside_bike", "poster", "hidden_legs", "half_body_below"]
)
def test_nothing_is_counted_where_nobody_rides_in_full_view(name: str) -> None:
    now, _ = progress_of_clip(name)
    assert now.sits == (0,)
    assert now.why


def test_what_cannot_be_seen_is_said_of_the_joint_or_of_the_whole_rider() -> None:
    cut_off, _ = progress_of_clip("half_body_below")
    assert cut_off.why == "the picture's edge cuts off the body"
    at_an_angle, _ = progress_of_clip("three_quarter")
    assert at_an_angle.why == "seen from the front or the back, not from the side"
    hidden, _ = ridden(10.0, lambda t_s, deg: Pose(deg, hidden=("knee",) if t_s > 5.0 else ()))
    assert hidden.why == "knee: hidden or not made out"


def test_nobody_is_said_where_nobody_is() -> None:
    now, _ = ridden(4.0, lambda t_s, deg: Pose(deg, seen=False))
    assert now.why == "nobody is found"


def test_a_crank_that_stands_still_is_said_to_and_counts_nothing_more() -> None:
    def pose_at(t_s: float, crank_deg: float) -> Pose:
        return Pose(min(crank_deg, 540.0 * 8.0))

    now, said = ridden(14.0, pose_at)
    assert now.why.startswith("not pedalling")
    assert 12 - FIRST_LOST <= now.n_strokes <= 12
    assert at(said, 13.9) == now.why


@pytest.mark.parametrize(("rpm", "pace"), [(52.0, "slow"), (135.0, "fast")])
def test_strokes_outside_60_to_110_rpm_do_not_count_and_it_is_said(rpm: float, pace: str) -> None:
    now, _ = ridden(15.0, rpm=rpm)
    assert now.n_strokes == 0
    assert now.why == f"cadence {rpm:.0f} rpm, wanted 60 to 110", pace


@pytest.mark.parametrize("rpm", [60.0, 110.0])
def test_strokes_at_either_end_of_the_pace_count(rpm: float) -> None:
    now, _ = ridden(20.0, rpm=rpm)
    assert rpm / 3.0 - FIRST_LOST - 1 <= now.n_strokes <= rpm / 3.0


def test_a_stroke_seen_in_less_than_four_fifths_of_its_pictures_is_not_usable() -> None:
    def pose_at(t_s: float, crank_deg: float) -> Pose:
        # At 90 rpm and 30 pictures a second a turn has 20: 6 of them are hidden.
        return Pose(crank_deg, hidden=("hip",) if crank_deg % 360.0 < 105.0 else ())

    now, _ = ridden(10.0, pose_at)
    assert now.n_strokes == 0
    assert now.why == "hip: hidden or not made out"


def test_a_sit_of_hardly_a_stroke_leaves_nothing_behind() -> None:
    def pose_at(t_s: float, crank_deg: float) -> Pose:
        up = 12.0 <= t_s < 14.0 or 16.0 <= t_s < 18.0
        return standing(crank_deg) if up else Pose(crank_deg)

    now, _ = ridden(30.0, pose_at)
    assert now.sits == (
        pytest.approx(18 - FIRST_LOST / 2, abs=FIRST_LOST / 2),
        pytest.approx(17, abs=2),
    )


def test_who_begins_out_of_the_saddle_has_counted_nothing_until_sitting_down() -> None:
    now, said = ridden(30.0, lambda t_s, deg: standing(deg) if t_s < 8.0 else Pose(deg))
    assert now.sits == (pytest.approx(30, abs=3),)
    assert at(said, 29.9) == ""


def test_a_rider_gone_for_over_five_seconds_sits_anew() -> None:
    now, said = ridden(30.0, lambda t_s, deg: Pose(deg, seen=not 12.0 <= t_s < 19.0))
    assert len(now.sits) == 2
    assert min(now.sits) >= 14
    assert at(said, 17.0) == "nobody is found"


def test_back_pedalling_over_a_top_ends_no_stroke() -> None:
    def pose_at(t_s: float, crank_deg: float) -> Pose:
        # Forward to 10 s, then back and forth over the same top.
        rocking = 5400.0 + 40.0 * float(np.sin(2 * np.pi * 0.8 * (t_s - 10.0)))
        return Pose(crank_deg if t_s < 10.0 else rocking)

    now, _ = ridden(20.0, pose_at)
    assert 15 - FIRST_LOST <= now.n_strokes <= 15
    assert now.why.startswith("not pedalling")


def test_a_reason_stays_long_enough_to_be_read() -> None:
    _, said = progress_of_clip("half_body_above")
    assert len(said) > 5
    gaps = np.diff([t_s for t_s, _ in said])
    assert gaps.min() >= 0.33
