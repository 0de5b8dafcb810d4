"""The boards: numbers that do not overlap, sizes that fit the paper, and the printer's scale."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from posewatch.core.boards import BOARDS, Board, board_named
from posewatch.errors import BadInput


def test_a_board_is_known_by_any_of_its_markers() -> None:
    for one, other in combinations(BOARDS, 2):
        assert not set(one.marker_ids) & set(other.marker_ids)
    assert max(max(board.marker_ids) for board in BOARDS) < 100  # a dictionary of 100 markers


@pytest.mark.parametrize("board", BOARDS, ids=lambda b: b.name)
def test_it_fits_its_paper_with_a_margin(board: Board) -> None:
    # Paper: ISO 216.
    width, height = {"a4": (297.0, 210.0), "a3": (420.0, 297.0)}[board.name[-2:]]
    assert (board.paper.width_mm, board.paper.height_mm) == (width, height)
    assert board.width_mm <= width - 2 * 20
    assert board.height_mm <= height - 2 * 15
    assert board.marker_mm < board.square_mm


@pytest.mark.parametrize("board", BOARDS, ids=lambda b: b.name)
def test_its_middle_is_the_middle_of_its_corners(board: Board) -> None:
    corners = board.corners_mm()
    assert corners.shape == (board.n_corners, 2)
    assert corners.mean(axis=0) == pytest.approx((0, 0), abs=1e-9)
    first, last = corners[0], corners[-1]
    assert first[0] < 0 < first[1]  # the first is at the upper left
    assert last == pytest.approx(-first)
    assert len(board.markers_mm()) == len(board.marker_ids)


def test_chosen_corners_come_in_the_order_asked_for() -> None:
    board = board_named("lens-a4")
    assert np.array_equal(board.corners_mm([5, 2]), board.corners_mm()[[5, 2]])


def test_a_printer_that_shrinks_shrinks_everything() -> None:
    board = board_named("bike-a3")
    printed = board.printed(99.3)
    assert printed.square_mm == pytest.approx(0.993 * 88)
    assert printed.marker_mm == pytest.approx(0.993 * 70.4)
    assert printed.corners_mm() == pytest.approx(0.993 * board.corners_mm())
    assert board.printed(100.0) == board


@pytest.mark.parametrize("bar_mm", [10.0, 79.9, 120.1, float("nan"), float("inf")])
def test_a_bar_that_no_printer_makes_is_refused(bar_mm: float) -> None:
    with pytest.raises(BadInput, match="print again at 100 %"):
        board_named("lens-a4").printed(bar_mm)


def test_an_unknown_board_is_named_with_the_known_ones() -> None:
    with pytest.raises(BadInput, match=r"no board 'a5'.*bike-a4, bike-a3, lens-a4, lens-a3"):
        board_named("a5")
