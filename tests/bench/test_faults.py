"""The table of faults: what its rows say of what was left, and that drives and clocks are tried."""

from __future__ import annotations

from pathlib import Path

import pytest

from posewatch.bench import faults
from posewatch.bench.faults import SetClocks, kill_rows
from posewatch.bench.kills import Killed, prepare
from posewatch.bench.rides import Recording, record
from posewatch.core.capture import Subject, capture
from posewatch.core.envelope import Target

GOOD = Killed(0.4, 2, 2, True, ())


def reached(watches: list[Killed], visits: list[Killed]) -> list[bool | None]:
    return [row.reached for row in kill_rows(watches, visits)]


def test_kills_that_lost_nothing_reach_every_goal() -> None:
    rows = kill_rows([GOOD, GOOD], [GOOD])
    assert [row.figure for row in rows] == ["0.40 s", "0.40 s", "2 of 2", "1 of 1", "3 of 3"]
    assert all(row.reached for row in rows)


def test_each_kind_of_loss_is_its_own_row() -> None:
    assert reached([Killed(1.1, 0, 0, True, ())], [GOOD]) == [False, True, True, True, True]
    assert reached([GOOD], [Killed(1.1, 0, 0, True, ())]) == [True, False, True, True, True]
    assert reached([GOOD], [Killed(0.1, 3, 2, True, ())]) == [True, True, False, True, True]
    assert reached([GOOD], [Killed(0.1, 0, 0, False, ())]) == [True, True, True, False, True]
    rows = kill_rows([GOOD], [Killed(0.1, 0, 0, True, ("input 7 is missing",)), GOOD])
    assert [row.reached for row in rows] == [True, True, True, True, False, None]
    assert rows[-1].figure == "input 7 is missing"


@pytest.mark.parametrize(
    ("program", "told"),
    [
        (faults.FULL_DRIVE, "database or disk is full"),
        (faults.FILLING_DRIVE, "MB are left on the drive"),
    ],
)
def test_a_drive_that_fills_ends_a_command_in_words(
    tmp_path: Path, program: str, told: str
) -> None:
    row = faults._drive_row(prepare(tmp_path), "drive", program, told)
    assert row.reached
    assert row.figure.startswith("yes, ")
    assert row.figure.endswith(", 0")


def test_a_drive_with_room_is_told_from_one_that_fills(tmp_path: Path) -> None:
    plain = "import sys; sys.argv.append('--fast'); from posewatch.cli import main; main()"
    row = faults._drive_row(prepare(tmp_path), "drive", plain, "full")
    assert (row.figure, row.reached) == ("NO, 1800, 0", False)


@pytest.fixture(scope="module")
def ride() -> Recording:
    """The first 20 s of a clip."""
    whole = record("hoods_reference", None, lambda *_: None)
    return Recording(whole.frames[:600], whole.chain, whole.plane)


@pytest.fixture(scope="module")
def target() -> Target:
    whole = record("hoods_reference", None, lambda *_: None)
    return capture([whole.frames], whole.chain, whole.plane, Subject("r", "b", "hoods"), "clip")


def test_a_set_clock_changes_nothing_and_a_sleep_does(ride: Recording, target: Target) -> None:
    plain = SetClocks(ride).watch(target)
    assert plain.n_counted > 10
    assert SetClocks(ride, stepped_ns=-(10**13)).watch(target) == plain
    slept = SetClocks(ride, slept_ns=10**12).watch(target)
    assert slept.watched_ns == plain.watched_ns + 10**12
    assert slept.counted_ns < plain.counted_ns
