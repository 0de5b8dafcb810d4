"""The pages to print, read back from the PDF itself."""

from __future__ import annotations

import hashlib
import re
import subprocess
import sys
import zlib
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from posewatch.camera.boards import DICTIONARY, black_mm
from posewatch.camera.opencv import cv2
from posewatch.core.boards import BOARDS, Board, board_named
from posewatch.report.board_pdf import board_pdf, write_board

SHIPPED = Path(__file__).parents[2] / "calibration"
MM_PER_PT = 25.4 / 72
PX_PER_MM = 4
each_board = pytest.mark.parametrize("board", BOARDS, ids=lambda b: b.name)


@cache
def page_of(board: Board) -> bytes:
    return board_pdf(board, black_mm(board))


def content(pdf: bytes) -> str:
    """Return what is drawn on the page."""
    for stream in re.findall(rb"stream\r?\n(.*?)endstream", pdf, re.DOTALL):
        try:
            text = zlib.decompressobj().decompress(stream).decode("latin-1")
        except zlib.error:
            continue
        if " re W n" in text:
            return text
    raise AssertionError("no page content")


def black_boxes_mm(pdf: bytes) -> np.ndarray:
    """Return (n, 4) filled rectangles after the page's background, in mm from its lower left."""
    drawn = content(pdf).split(" re W n", 1)[1]
    number = r"(-?[\d.]+)"
    point = rf"{number} {number}"
    box = rf"{point} m\s{point} l\s{point} l\s{point} l\sh"
    found = np.array(re.findall(box, drawn), float).reshape(-1, 4, 2) * MM_PER_PT
    return np.column_stack((found.min(axis=1), found.max(axis=1)))


@each_board
def test_the_page_is_exactly_the_paper(board: Board) -> None:
    pdf = page_of(board)
    boxes = re.findall(rb"/MediaBox \[ ?0 0 ([\d.]+) ([\d.]+) ?\]", pdf)
    assert len(boxes) == 1
    width, height = (float(side) * MM_PER_PT for side in boxes[0])
    assert (width, height) == pytest.approx(board.paper.value, abs=0.01)


@each_board
def test_squares_and_bar_are_exact(board: Board) -> None:
    drawn = black_boxes_mm(page_of(board))
    middle = np.array(board.paper.value * 2) / 2
    expected = black_mm(board) + middle
    assert drawn[: len(expected)] == pytest.approx(expected, abs=1e-3)
    (bar,) = drawn[len(expected) :]
    assert bar[3] - bar[1] == pytest.approx(100.0, abs=1e-3)
    assert bar[0] >= 10
    assert bar[2] <= middle[0] - board.width_mm / 2 - 3  # well clear of the squares


@each_board
def test_the_page_drawn_at_any_printer_shows_every_corner(board: Board) -> None:
    width, height = board.paper.value
    page = np.full((round(height * PX_PER_MM), round(width * PX_PER_MM)), 255, np.float64)
    fine = 4
    large = np.full((page.shape[0] * fine, page.shape[1] * fine), 255, np.uint8)
    scale = PX_PER_MM * fine
    for left, low, right, high in black_boxes_mm(page_of(board)):
        rows = slice(round((height - high) * scale), round((height - low) * scale))
        large[rows, round(left * scale) : round(right * scale)] = 0
    page = cv2.resize(large, page.shape[::-1], interpolation=cv2.INTER_AREA)
    theirs = cv2.aruco.CharucoBoard(
        (board.squares_across, board.squares_up),
        board.square_mm,
        board.marker_mm,
        DICTIONARY,
        np.array(board.marker_ids),
    )
    corners, numbers, _, _ = cv2.aruco.CharucoDetector(theirs).detectBoard(page)
    assert np.asarray(numbers).ravel().tolist() == list(range(board.n_corners))
    seen_mm = (np.asarray(corners).reshape(-1, 2) + 0.5) / PX_PER_MM
    expected = np.array((width, height)) / 2 + board.corners_mm() * (1, -1)
    assert np.abs(seen_mm - expected).max() * PX_PER_MM < 0.1


@each_board
def test_everything_stays_inside_the_margin(board: Board) -> None:
    text = content(page_of(board))
    boxes = black_boxes_mm(page_of(board))
    width, height = board.paper.value
    assert boxes[:, :2].min() >= 10
    assert boxes[:, 2].max() <= width - 10
    assert boxes[:, 3].max() <= height - 10
    words = np.array(re.findall(r"([\d.]+) ([\d.]+) cm\s+BT", text), float) * MM_PER_PT
    assert len(words) >= 3
    assert (words >= 9.9).all()
    assert (words <= np.array((width, height)) - 9.9).all()


def test_fonts_are_embedded_and_there_is_no_date() -> None:
    pdf = page_of(board_named("bike-a4"))
    fonts = set(re.findall(rb"/FontName /([A-Z]{6}\+)?", pdf))
    assert fonts
    assert all(fonts)  # a name with a tag is that of an embedded part of a font
    assert b"/FontFile2" in pdf
    assert b"CreationDate" not in pdf


def test_bytes_are_the_same_in_another_process() -> None:
    code = (
        "import hashlib; from posewatch.core.boards import BOARDS;"
        "from posewatch.camera.boards import black_mm;"
        "from posewatch.report.board_pdf import board_pdf;"
        "print(*(hashlib.sha256(board_pdf(b, black_mm(b))).hexdigest() for b in BOARDS))"
    )
    other = subprocess.run(
        [sys.executable, "-c", code], check=True, capture_output=True, text=True
    ).stdout.split()
    assert other == [hashlib.sha256(page_of(b)).hexdigest() for b in BOARDS]


@each_board
def test_the_shipped_page_is_this_one(board: Board) -> None:
    shipped = (SHIPPED / f"{board.name}.pdf").read_bytes()
    fresh = page_of(board)
    assert black_boxes_mm(shipped) == pytest.approx(black_boxes_mm(fresh), abs=1e-6)
    words = [
        re.sub(r"[^A-Za-z0-9]", "", content(pdf).split("BT", 1)[1]) for pdf in (shipped, fresh)
    ]
    assert words[0] == words[1]


def test_a_page_is_written_whole(tmp_path: Path) -> None:
    board = board_named("lens-a4")
    write_board(board, black_mm(board), tmp_path / "a.pdf")
    assert (tmp_path / "a.pdf").read_bytes() == page_of(board)
    assert [path.name for path in tmp_path.iterdir()] == ["a.pdf"]
