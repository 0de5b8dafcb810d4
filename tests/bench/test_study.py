"""The study clips, measured on their recorded landmarks."""

from __future__ import annotations

import pytest

from posewatch.bench import kit_study, study
from posewatch.bench.accuracy import Scored
from posewatch.bench.rides import Yardstick
from posewatch.bench.tables import Row


def nothing(*_: object) -> None:
    """Show no progress."""


@pytest.fixture(scope="module")
def yard(scored: dict[str, Scored]) -> Yardstick:
    return scored["hoods_steady"].yard


def reached(rows: list[Row]) -> dict[str, bool | None]:
    return {row.what: row.reached for row in rows}


def test_nobody_is_counted_where_nobody_rides(yard: Yardstick) -> None:
    rows = study.nobody_rows(yard, None, nothing)
    assert len(rows) == len(study.NOBODY_RIDES) == 6
    assert all(row.figure == "0" for row in rows)


def test_small_changes_are_detected_and_read_in_full(yard: Yardstick) -> None:
    rows = study.small_change_rows(yard, None, nothing)
    goals = {what: ok for what, ok in reached(rows).items() if ok is not None}
    assert len(goals) == 3
    assert all(goals.values()), rows
    assert not any("missed" in row.figure for row in rows)


def test_three_sits_are_found(yard: Yardstick) -> None:
    (row,) = study.sits_rows(yard, None, nothing)
    assert row.reached, row.figure


def test_the_bike_plane_undoes_most_of_a_turned_camera(yard: Yardstick) -> None:
    rows = study.yaw_rows(yard, None, nothing)
    torso = [float(row.figure.split(" and ")[0]) for row in rows]
    picture = [float(row.figure.split("picture ")[1].split(" and ")[0]) for row in rows]
    assert max(abs(t) for t in torso) <= 0.5
    assert abs(picture[-1]) > 2.0


def test_the_leg_s_chain_lowers_what_is_not_locked_by_thirty_percent(
    scored: dict[str, Scored],
) -> None:
    clips = ("hoods_steady", "drops_steady", "left_side_steady", "dark_kit_dim_room")
    runs = {clip: (scored[clip].run, scored[clip].exact_run) for clip in clips}
    assert all(reached(study.chain_rows(runs)).values())


def test_a_hip_behind_an_arm_is_carried(yard: Yardstick) -> None:
    (row,) = study.hidden_hip_rows(yard, None, nothing)
    assert "carried in 6" in row.figure


def test_dots_are_exact_and_stay_where_they_are_in_other_clothes(yard: Yardstick) -> None:
    missed = {what for what, ok in reached(kit_study.dot_rows(None, nothing)).items() if not ok}
    # 0.503 px: the knee's sticker turns with the shank about a joint that it is not exactly on.
    knee = "dots: knee against the joint's centre, error SD, larger axis"
    assert missed == {knee, "dots: knee error, SD; not locked to the crank"}
    kits = kit_study.kit_rows(yard, None, nothing)
    assert [row.reached for row in kits if ", dots" in row.what] == [True] * 5
    assert not all(row.reached for row in kits if ", landmarks" in row.what)
