"""What is said while a target is being captured."""

from __future__ import annotations

import pytest

from posewatch.core.capture_progress import CaptureProgress
from posewatch.ui import capture_view
from posewatch.ui.capture_view import cells, early_end, prompt


def test_before_a_capture_three_empty_cells_wait() -> None:
    assert [cell.text for cell in cells(None)] == ["sit 1: 0/20", "sit 2: 0/20", "sit 3: 0/20"]
    assert not any(cell.current or cell.is_full for cell in cells(None))


def test_the_sit_under_way_is_marked_and_full_ones_are() -> None:
    shown = cells(CaptureProgress((23, 7)))
    assert [cell.text for cell in shown] == ["sit 1: 23/20", "sit 2: 7/20", "sit 3: 0/20"]
    assert [cell.is_full for cell in shown] == [True, False, False]
    assert [cell.current for cell in shown] == [False, True, False]


def test_of_more_than_three_sits_the_last_three_are_shown() -> None:
    shown = cells(CaptureProgress((23, 9, 21, 3)))
    assert [cell.number for cell in shown] == [2, 3, 4]
    assert shown[-1].current


@pytest.mark.parametrize(
    ("counted", "words"),
    [
        (CaptureProgress((0,)), "Sit 1: 20 more strokes, steady as now."),
        (CaptureProgress((22, 19)), "Sit 2: 1 more stroke, steady as now."),
        (
            CaptureProgress((22, 5), why="hip: behind the arm"),
            "Not counting: hip: behind the arm.",
        ),
        (
            CaptureProgress((20,)),
            "Sit 1 is full. Leave the saddle, sit down again and pedal on.",
        ),
        # Being out of the saddle between sits is what was asked for.
        (
            CaptureProgress((20,), why="out of the saddle"),
            "Sit 1 is full. Leave the saddle, sit down again and pedal on.",
        ),
        (
            CaptureProgress((20, 0), why="out of the saddle"),
            "Not counting: out of the saddle.",
        ),
        (CaptureProgress((20, 25, 20)), "All three sits have their strokes: end the capture."),
    ],
)
def test_one_thing_is_asked_for_at_a_time(counted: CaptureProgress, words: str) -> None:
    assert prompt(counted, ready=True, stopping=False) == words


def test_before_the_first_picture_and_at_the_end_it_says_what_goes_on() -> None:
    assert prompt(None, ready=False, stopping=False) == capture_view.OPENING
    assert prompt(None, ready=True, stopping=False) == capture_view.RIDE
    assert prompt(CaptureProgress((20,)), ready=True, stopping=True) == capture_view.WORKING_OUT


def test_what_ending_now_would_come_to() -> None:
    assert early_end(None) == ""
    assert early_end(CaptureProgress((20, 10))) == (
        "Ended now, 8 strokes are missing for a target."
    )
    assert "cannot tell what a fresh sit adds" in early_end(CaptureProgress((38,)))
    assert early_end(CaptureProgress((20, 20, 20))) == ""
