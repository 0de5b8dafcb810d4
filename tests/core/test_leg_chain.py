"""The leg's chain on the linkage rider's exact joints: noise, changes, hidden and other hips."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from followed_legs import ALL, MODEL, NO_HIP, PX_PER_M, RATE_HZ, RPM, PoseAt, drawn, follow
from linkage_rider import LEG, MM_PER_PX, SHANK_M, THIGH_M, Pose

from posewatch.core import leg_chain
from posewatch.core.angles import knee_flexion_deg
from posewatch.core.leg_chain import LegCurves, LegState
from posewatch.core.records import FloatArray
from posewatch.core.timebase import to_ns

ALL_ROUND = pytest.mark.parametrize("crank_deg", range(0, 360, 30))


def flexion_deg(leg: FloatArray) -> FloatArray:
    """Return the knee flexion of (..., 3, 2) hip, knee and ankle."""
    return knee_flexion_deg(leg[..., 0, :], leg[..., 1, :], leg[..., 2, :])


def moved(crank_deg: float, part: str, by_m: tuple[float, float]) -> Pose:
    """Return the fitted pose with the hip, or the ankle in the foot's frame, moved."""
    return Pose(crank_deg, hip_m=by_m) if part == "hip" else Pose(crank_deg, ankle_m=by_m)


def from_five(pose: Callable[[float], Pose]) -> PoseAt:
    """Ride as fitted for five seconds, then with another pose."""
    return lambda t_s, crank_deg: pose(crank_deg) if t_s >= 5.0 else Pose(crank_deg)


# --- noise ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(3))
def test_noise_of_the_knee_is_less_by_far_more_than_a_third(seed: int) -> None:
    # The aim is 30 % less; an average over the lag alone, without the lengths, would be near 50.
    true, seen, estimated = follow(20.0, noise_px=2.0, seed=seed).between(2.0, 20.0)
    raw = flexion_deg(seen) - flexion_deg(true)
    filtered = flexion_deg(estimated) - flexion_deg(true)
    assert raw.std() > 2.0
    assert filtered.std() <= 0.5 * raw.std()
    assert abs(filtered.mean()) < 0.25


def test_without_noise_the_fitted_rider_is_left_as_he_is() -> None:
    true, _, estimated = follow(5.0).between(0.0, 5.0)
    # What six harmonics cannot hold of the joints' curves: a fiftieth of a pixel.
    assert estimated == pytest.approx(true, abs=0.03)


def test_curves_are_learned_from_noisy_joints() -> None:
    random = np.random.default_rng(4)
    crank_deg = random.uniform(0.0, 360.0, 900)
    points = np.array([drawn(Pose(float(deg))) for deg in crank_deg])
    noisy = points + random.normal(0.0, 2.0, points.shape)
    found = leg_chain.learn(np.radians(crank_deg), noisy, LEG.thigh)
    assert found.thigh == LEG.thigh
    # A mean of 900 points at 2 px is 0.07 px uncertain.
    assert np.array(found.curves)[:, 0] == pytest.approx(np.array(LEG.curves)[:, 0], abs=0.25)
    assert np.array(found.curves) == pytest.approx(np.array(LEG.curves), abs=0.5)


# --- the lengths ----------------------------------------------------------------------------------


def estimate_at(crank_deg: float, off_px: FloatArray) -> FloatArray:
    """Return the leg that a state with these offsets, and no doubt about them, stands for."""
    angle = math.radians(crank_deg)
    state = LegState(off_px, np.eye(4) * 1e-18, 0, angle, 0)
    points = drawn(Pose(crank_deg))
    _, estimate = leg_chain.step(MODEL, state, 1, angle, points, np.array(ALL))
    assert estimate is not None
    return estimate.points


@ALL_ROUND
@pytest.mark.parametrize("part", ["hip", "ankle"])
@pytest.mark.parametrize("axis", [0, 1])
def test_the_knee_moves_as_the_two_circles_cut(crank_deg: float, part: str, axis: int) -> None:
    """Finite differences of the exact joints, moved by a tenth of a millimetre either way."""
    h_m = 1e-4
    step = (h_m, 0.0) if axis == 0 else (0.0, h_m)
    back = (-step[0], -step[1])
    there, back_again = (moved(crank_deg, part, by) for by in (step, back))
    exact = np.subtract(drawn(there), drawn(back_again))
    off = np.zeros(4)
    off[axis + (2 if part == "ankle" else 0)] = h_m * PX_PER_M
    mine = estimate_at(crank_deg, off) - estimate_at(crank_deg, -off)
    assert mine / h_m == pytest.approx(exact / h_m, abs=0.01 * PX_PER_M)


@ALL_ROUND
def test_segments_keep_their_lengths_to_first_order(crank_deg: float) -> None:
    """What is left of a change of the lengths falls with the square of the offset."""
    way = np.array((1.0, -0.5, -0.25, 0.75))
    lengths = []
    for share in (0.0, 1.0, 2.0):
        hip, knee, ankle = estimate_at(crank_deg, share * way)
        lengths.append((math.dist(hip, knee), math.dist(knee, ankle)))
    assert lengths[0] == pytest.approx((THIGH_M * PX_PER_M, SHANK_M * PX_PER_M), abs=0.03)
    small, large = np.array(lengths[1:]) - lengths[0]
    assert np.abs(small).max() < 0.05
    assert large == pytest.approx(4.0 * small, rel=0.02, abs=1e-4)


def test_a_leg_that_is_almost_straight_has_no_wild_knee() -> None:
    """Thigh and shank on one line: their lengths do not tell where the knee is across it."""
    flat = (0.0,) * 12
    for bend_px in (0.0, 1.0, 5.0, 9.0):
        heights = (200.0, 100.0, 0.0)
        curves = tuple(
            (place, *flat) for y in heights for place in (bend_px if y == 100.0 else 0.0, y)
        )
        model = leg_chain.leg_model(LegCurves(curves, 100.0))
        state, points = None, np.array([(0.0, 200.0), (bend_px, 100.0), (0.0, 0.0)])
        random = np.random.default_rng(1)
        for index in range(120):
            seen = points + random.normal(0.0, 1.5, points.shape)
            state, estimate = leg_chain.step(
                model, state, to_ns(index / RATE_HZ), 0.3 * index, seen, np.array(ALL)
            )
            assert estimate is not None
            assert np.abs(estimate.points - points).max() < 4.0


# --- changes --------------------------------------------------------------------------------------


@pytest.mark.parametrize("mm", [(20.0, 0.0), (-20.0, 0.0), (0.0, 15.0)])
def test_a_slide_of_the_hip_is_followed(mm: tuple[float, float]) -> None:
    moved = (mm[0] / 1000.0, mm[1] / 1000.0)
    found = follow(9.0, from_five(lambda deg: Pose(deg, hip_m=moved)))
    assert found.silent_s() == []
    hip_lag_s, _ = leg_chain.lag_s(MODEL, RATE_HZ)
    size_px = math.hypot(*mm) / MM_PER_PX
    true, _, estimated = found.between(5.0, 9.0)
    left = np.linalg.norm(estimated[:, 0] - true[:, 0], axis=1)
    # The chain knows more of the hip than the hip's own pixels: 1 - 1/e of the way by its lag.
    assert left[round(hip_lag_s * RATE_HZ)] <= size_px / math.e
    assert left[round(1.0 * RATE_HZ)] <= 0.02 * size_px
    true, _, estimated = found.between(7.0, 9.0)
    off = flexion_deg(estimated) - flexion_deg(true)
    # Exact to first order; what is left is of the almost straight leg, whose knee moves most.
    assert abs(off.mean()) < 0.1
    assert np.abs(off).max() < 0.5


@pytest.mark.parametrize(("part", "joint"), [("hip", 0), ("ankle", 2)])
@pytest.mark.parametrize("axis", [0, 1])
def test_a_steady_creep_is_followed_within_the_lag_that_is_told(
    part: str, joint: int, axis: int
) -> None:
    # Slow enough for first order; the knee helps, so that the lag is told a little too long.
    mm_s = 1.0

    def creeping(t_s: float, crank_deg: float) -> Pose:
        way = mm_s / 1000.0 * max(0.0, t_s - 2.0)
        return moved(crank_deg, part, (way, 0.0) if axis == 0 else (0.0, way))

    found = follow(8.0, creeping)
    assert found.silent_s() == []
    true, _, estimated = found.between(5.0, 8.0)
    behind_mm = (true[:, joint, axis] - estimated[:, joint, axis]).mean() * MM_PER_PX
    told_s = leg_chain.lag_s(MODEL, RATE_HZ)[joint // 2]
    assert 0.6 * told_s <= behind_mm / mm_s <= told_s


@pytest.mark.parametrize("rate_hz", [25.0, 30.0, 60.0])
def test_lags_are_fractions_of_a_second_at_any_rate(rate_hz: float) -> None:
    hip_s, ankle_s = leg_chain.lag_s(MODEL, rate_hz)
    assert 0.05 < hip_s < 0.2
    assert hip_s < ankle_s < 0.5


@pytest.mark.parametrize(
    "other",
    [
        lambda deg: Pose(deg, ankle_m=(0.010, 0.0)),
        lambda deg: Pose(deg, ankle_m=(0.0, 0.010)),
        lambda deg: Pose(deg, ankle_m=(-0.007, -0.007)),
        lambda deg: Pose(deg, toe_down_deg=6.0),
        lambda deg: Pose(deg, toe_down_deg=6.0 * math.cos(math.radians(deg))),
    ],
    ids=["10 mm ahead", "10 mm up", "heel lower", "toe 6 deg lower", "toe swings 6 deg either way"],
)
def test_another_ankling_is_followed_within_two_seconds_and_not_flattened(
    other: Callable[[float], Pose],
) -> None:
    found = follow(12.0, from_five(other))
    assert found.silent_s() == []
    true, _, estimated = found.between(7.0, 12.0)
    crank_deg = 6.0 * RPM * found.t_s[(found.t_s >= 7.0) & (found.t_s < 12.0)]
    fitted = np.array([flexion_deg(drawn(Pose(float(deg)))) for deg in crank_deg])
    changed, read = flexion_deg(true) - fitted, flexion_deg(estimated) - fitted
    assert np.abs(changed).max() > 0.5
    # A slope of 1 = the whole change is read, in step with the crank.
    slope = float(read @ changed / (changed @ changed))
    assert slope >= 0.95 if other(0.0).toe_down_deg == other(180.0).toe_down_deg else slope >= 0.9


# --- hidden and other hips ------------------------------------------------------------------------


def test_a_hidden_hip_is_carried_for_three_turns_and_flagged() -> None:
    found = follow(10.0, noise_px=1.0, believed_at=lambda t_s: NO_HIP if t_s >= 5.0 else ALL)
    # The hip was last seen one picture before 5 s; three turns at 90 rpm take 2 s.
    last_s = 5.0 - 1.0 / RATE_HZ + 3.0 * 60.0 / RPM
    assert found.silent_s()[0] == pytest.approx(last_s, abs=1.01 / RATE_HZ)
    assert len(found.silent_s()) == pytest.approx((10.0 - last_s) * RATE_HZ, abs=1)
    for t_s, estimate in zip(found.t_s, found.estimates, strict=True):
        assert estimate is None or estimate.carried is bool(t_s >= 5.0)
    true, _, estimated = found.between(5.0, 7.0)
    away = np.linalg.norm(estimated[:, 0] - true[:, 0], axis=1)
    assert away.max() < 3.0


def test_a_hip_that_slid_before_it_was_hidden_is_carried_where_it_is() -> None:
    found = follow(
        8.0,
        lambda t_s, deg: Pose(deg, hip_m=(0.020, 0.0) if t_s >= 3.0 else (0.0, 0.0)),
        believed_at=lambda t_s: NO_HIP if t_s >= 6.0 else ALL,
    )
    true, _, estimated = found.between(6.0, 7.9)
    assert len(true) > 50
    assert estimated[:, 0] == pytest.approx(true[:, 0], abs=0.5)


@pytest.mark.parametrize("also", [(False, False, True), (False, True, False)])
def test_knee_and_ankle_are_both_needed_to_carry_a_hip(also: tuple[bool, bool, bool]) -> None:
    found = follow(6.0, believed_at=lambda t_s: also if t_s >= 5.0 else ALL)
    assert found.silent_s() == pytest.approx(np.arange(150, 180) / RATE_HZ)


@pytest.mark.parametrize("some", [(True, False, True), (True, True, False)])
def test_a_hidden_knee_or_ankle_is_told_by_the_others(some: tuple[bool, bool, bool]) -> None:
    found = follow(6.0, believed_at=lambda t_s: some if t_s >= 5.0 else ALL)
    assert found.silent_s() == []
    assert not any(e is not None and e.carried for e in found.estimates)
    true, _, estimated = found.between(5.0, 6.0)
    assert estimated == pytest.approx(true, abs=0.1)


@pytest.mark.parametrize("by_m", [(0.10, -0.03), (-0.12, -0.04)])
def test_a_hip_that_is_seen_elsewhere_is_never_replaced_and_retaken_after_half_a_second(
    by_m: tuple[float, float],
) -> None:
    found = follow(8.0, from_five(lambda deg: Pose(deg, hip_m=by_m)))
    silent = found.silent_s()
    assert silent[0] == 5.0, "the first picture of it is not taken for the carried hip"
    assert silent == pytest.approx(np.arange(len(silent)) / RATE_HZ + 5.0)
    assert 0.4 <= len(silent) / RATE_HZ <= 0.57
    assert not any(e is not None and e.carried for e in found.estimates)
    true, _, estimated = found.between(6.5, 8.0)
    assert len(true) == 45
    assert estimated[:, 0] == pytest.approx(true[:, 0], abs=1.0)


def test_a_single_wrong_hip_is_left_out_and_moves_nothing() -> None:
    wrong = follow(7.0, lambda t_s, deg: Pose(deg, hip_m=(0.1, 0.0) if t_s == 5.0 else (0.0, 0.0)))
    assert wrong.silent_s() == [5.0]
    true, _, estimated = wrong.between(5.0, 7.0)
    assert estimated[:, 0] == pytest.approx(true[:, 0], abs=0.1)


def test_nothing_is_said_of_a_leg_that_nobody_sees_and_it_is_taken_up_again() -> None:
    nobody = (False, False, False)
    found = follow(8.0, believed_at=lambda t_s: nobody if 5.0 <= t_s < 6.0 else ALL)
    assert found.silent_s() == pytest.approx(np.arange(150, 180) / RATE_HZ)
    assert found.between(6.0, 8.0)[2] == pytest.approx(found.between(6.0, 8.0)[0], abs=0.1)


def test_the_same_joints_give_the_same_numbers_to_the_bit() -> None:
    one, two = (follow(3.0, noise_px=2.0, seed=5) for _ in range(2))
    for first, second in zip(one.states, two.states, strict=True):
        assert first.off.tobytes() == second.off.tobytes()
        assert first.covariance.tobytes() == second.covariance.tobytes()
