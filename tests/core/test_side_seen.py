"""The side that the camera sees is told once, when it has stood."""

from __future__ import annotations

from posewatch.core import side_seen
from posewatch.core.records import NS_PER_S, Side
from posewatch.core.side_seen import SIDE_STANDS_NS, SideSeen


def told_at(sides: list[Side | None]) -> list[int]:
    """One side a second; returns the seconds at which it was told."""
    state, told = SideSeen(), []
    for second, side in enumerate(sides):
        state, is_settled = side_seen.step(state, second * NS_PER_S, side)
        if is_settled:
            told.append(second)
    return told


def test_it_is_told_once_when_it_has_stood_for_three_seconds() -> None:
    assert SIDE_STANDS_NS == 3 * NS_PER_S
    assert told_at([Side.LEFT] * 8) == [3]


def test_another_side_meanwhile_begins_anew() -> None:
    assert told_at([Side.LEFT, Side.LEFT, Side.RIGHT, *[Side.LEFT] * 6]) == [6]


def test_what_comes_after_it_was_told_is_not_told() -> None:
    assert told_at([*[Side.LEFT] * 5, *[Side.RIGHT] * 9]) == [3]


def test_no_side_is_never_told() -> None:
    assert told_at([None] * 9) == []
