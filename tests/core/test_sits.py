"""A recording falls into sits where the rider leaves the saddle; odd strokes are left out."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from posewatch.core.belief import BodySample
from posewatch.core.channels import N_COLUMNS
from posewatch.core.crank import UNKNOWN, CrankReading
from posewatch.core.landmarks import JOINTS
from posewatch.core.pedal_circle import TURN
from posewatch.core.records import FloatArray, Side
from posewatch.core.sits import SHORTEST_SIT, Sit, part_into_sits
from posewatch.core.tracking import Tracked

RATE_HZ, RPM = 30.0, 90.0
KNEE, ALONG, UP = 1, 3, 4
NOMINAL = 430.0

Away = Callable[[float], FloatArray]


def still(t_s: float) -> FloatArray:
    return np.zeros(N_COLUMNS)


def sits_of(
    seconds: float, away: Away = still, unknown: tuple[float, float] = (0.0, 0.0)
) -> list[Sit]:
    """Sits of even pedalling at 90 rpm; the crank's angle is not known from .. to."""
    tracked, rows = [], []
    for index in range(round(seconds * RATE_HZ)):
        t_s = index / RATE_HZ
        points = np.zeros((len(JOINTS), 2))
        body = BodySample(
            round(1e9 * t_s), points, np.zeros(len(JOINTS), np.uint8), points[3], True, 0, 0, 0
        )
        speed = TURN * RPM / 60.0
        crank = CrankReading(True, speed * t_s, speed, True)
        if unknown[0] <= t_s < unknown[1]:
            crank = UNKNOWN
        tracked.append(Tracked(body.t_ns, Side.RIGHT, body, crank))
        rows.append(away(t_s))
    table = np.array(rows)
    return part_into_sits(tracked, table, table[:, [ALONG, UP]], NOMINAL)


def off(column: int, value: float) -> FloatArray:
    row = np.zeros(N_COLUMNS)
    row[column] = value
    return row


def test_one_sit_holds_all_strokes() -> None:
    (sit,) = sits_of(20.0)
    # 30 turns begin at 0; the first top is at 0 s itself, so one stroke is lost at either end.
    assert sit.n_known == len(sit.good) == 28
    starts = [revolution.start_ns for revolution in sit.good]
    assert np.diff(starts) == pytest.approx(60e9 / RPM, abs=2)


def test_each_leaving_of_the_saddle_begins_a_new_sit() -> None:
    def away(t_s: float) -> FloatArray:
        standing = 10.0 <= t_s < 13.0 or 25.0 <= t_s < 27.0
        return off(UP, 120.0 / NOMINAL if standing else t_s * 1e-4)

    found = sits_of(40.0, away)
    assert len(found) == 3
    spans = [(s.good[0].start_ns / 1e9, s.good[-1].end_ns / 1e9) for s in found]
    for (start, end), (low, high) in zip(
        spans, ((0.0, 10.0), (13.0, 25.0), (27.0, 40.0)), strict=True
    ):
        assert low <= start < low + 2.1
        assert high - 2.1 < end <= high


def test_a_moment_s_bump_is_no_new_sit() -> None:
    def away(t_s: float) -> FloatArray:
        return off(UP, 120.0 / NOMINAL if 10.0 <= t_s < 10.2 else 0.0)

    assert len(sits_of(20.0, away)) == 1


def test_a_sit_of_hardly_a_stroke_is_left_out() -> None:
    def away(t_s: float) -> FloatArray:
        return off(UP, 120.0 / NOMINAL if 12.0 <= t_s < 14.0 or t_s >= 18.0 else 0.0)

    found = sits_of(22.0, away)  # from 14 to 18 s there are six strokes at most
    assert len(found) == 1
    assert found[0].good[-1].end_ns <= 12e9
    assert sits_of((SHORTEST_SIT - 1) * 60.0 / RPM) == []


def test_strokes_unlike_the_others_are_dropped_and_counted() -> None:
    def away(t_s: float) -> FloatArray:
        return off(KNEE, 4.0 if 8.0 <= t_s < 60.0 / RPM + 8.0 else 0.0)

    (sit,) = sits_of(20.0, away)
    assert sit.n_known - len(sit.good) in (1, 2)
    assert all(abs(revolution.means[KNEE]) < 1.1 for revolution in sit.good)


def test_a_restless_stroke_is_dropped_for_its_spread() -> None:
    def away(t_s: float) -> FloatArray:
        inside = 8.0 <= t_s < 60.0 / RPM + 8.0
        return off(KNEE, 5.0 * np.sin(4 * np.pi * RPM / 60.0 * t_s) if inside else 0.0)

    (sit,) = sits_of(20.0, away)
    assert 1 <= sit.n_known - len(sit.good) <= 2


def test_a_crank_angle_not_known_costs_its_strokes_and_no_sit() -> None:
    (sit,) = sits_of(20.0, unknown=(8.0, 9.0))
    assert 24 <= len(sit.good) <= 26
    assert not any(r.start_ns < 9e9 and r.end_ns > 8e9 for r in sit.good)


def test_strokes_that_cannot_be_judged_are_not_known() -> None:
    def away(t_s: float) -> FloatArray:
        return off(KNEE, np.nan if t_s < 10.0 else 0.0)

    (sit,) = sits_of(20.0, away)
    assert sit.n_known == len(sit.good)
    assert sit.good[0].start_ns >= 9.9e9


def test_nothing_seen_is_no_sit() -> None:
    assert sits_of(20.0, lambda _: np.full(N_COLUMNS, np.nan)) == []
    assert part_into_sits([], np.empty((0, N_COLUMNS)), np.empty((0, 2)), NOMINAL) == []
