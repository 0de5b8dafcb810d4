"""A board as a page to print: squares exactly in millimetres, a bar to measure, what to do with it.

Drawn as vectors on a page of exactly the paper's size, so that a printer at 100 % gives the board
its size; what a printer makes of it all the same is read off the bar. The same board gives the same
bytes every time.
"""

from __future__ import annotations

import io
import os
from pathlib import Path

import matplotlib

matplotlib.use("Agg")
import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_pdf import FigureCanvasPdf
from matplotlib.figure import Figure
from matplotlib.patches import Circle, PathPatch, Polygon, Rectangle
from matplotlib.path import Path as Outline

from posewatch.core.boards import BAR_MM, MIDDLE_DISC_MM, Board
from posewatch.core.records import FloatArray
from posewatch.errors import BadInput

MM_PER_INCH = 25.4
#: Most printers leave a margin of 4 to 6 mm unprinted.
MARGIN_MM = 10.0
BAR_BREADTH_MM = 4.0
ARROW_MM = 30.0
#: The mark at the middle of a bike board: a white disc, a ring to pierce, hairlines across it.
RING_MM, HAIRLINE_MM = MIDDLE_DISC_MM / 2, 0.3
TEXT_PT, NAME_PT = 8.0, 11.0
PT_PER_MM = 72 / MM_PER_INCH

_PRINT = (
    "Print at 100 %. Measure the black bar end to end: 100.0 mm, else give the program its length. "
    "Glue flat on stiff board."
)
_BIKE = f"{_PRINT} Middle on the axle, parallel to the wheels."


def board_pdf(board: Board, black_mm: FloatArray) -> bytes:
    """Return a PDF of one page.

    black_mm: (n, 4) what of the board is black: left, bottom, right, top, mm from its middle.
    """
    width, height = board.paper.width_mm, board.paper.height_mm
    figure = Figure(figsize=(width / MM_PER_INCH, height / MM_PER_INCH))
    FigureCanvasPdf(figure)
    axes = figure.add_axes((0, 0, 1, 1), frameon=False)
    axes.set_axis_off()
    # Millimetres from the board's middle, which is the page's.
    axes.set_xlim(-width / 2, width / 2)
    axes.set_ylim(-height / 2, height / 2)
    axes.add_patch(_black(black_mm))
    _draw_bar(axes, board)
    _draw_words(axes, board)
    if board.held_on_bike:
        _draw_arrow(axes, board)
        _draw_middle(axes)
    page = io.BytesIO()
    # TrueType fonts are embedded; a date would make every file another.
    with matplotlib.rc_context({"pdf.fonttype": 42, "pdf.compression": 6}):
        figure.savefig(
            page,
            format="pdf",
            metadata={
                "Title": f"posewatch board {board.name}",
                "Creator": "posewatch",
                "Producer": None,
                "CreationDate": None,
            },
        )
    return page.getvalue()


def _black(black_mm: FloatArray) -> PathPatch:
    """Return all rectangles as one shape: filled at once, no hairlines show between neighbours."""
    left, bottom, right, top = black_mm.T
    corners = np.stack(
        [
            np.column_stack(pair)
            for pair in ((left, bottom), (right, bottom), (right, top), (left, top), (left, bottom))
        ],
        axis=1,
    )
    codes = [Outline.MOVETO, Outline.LINETO, Outline.LINETO, Outline.LINETO, Outline.CLOSEPOLY]
    outline = Outline(corners.reshape(-1, 2), codes * len(black_mm))
    return PathPatch(outline, facecolor="black", edgecolor="none", linewidth=0)


def _side_mm(board: Board) -> float:
    """Return how far from the middle the strips beside the board have their middle."""
    return (board.width_mm / 2 + board.paper.width_mm / 2 - MARGIN_MM) / 2


def _draw_bar(axes: Axes, board: Board) -> None:
    left = -_side_mm(board)
    corner = (left - BAR_BREADTH_MM / 2, -BAR_MM / 2)
    axes.add_patch(Rectangle(corner, BAR_BREADTH_MM, BAR_MM, facecolor="black", linewidth=0))
    above = (left, BAR_MM / 2 + 3)
    axes.text(*above, f"{BAR_MM:.0f} mm", rotation=90, ha="center", va="bottom", fontsize=TEXT_PT)


def _draw_words(axes: Axes, board: Board) -> None:
    foot = (_side_mm(board), -BAR_MM / 2)
    axes.text(*foot, board.name, rotation=90, ha="center", va="bottom", fontsize=NAME_PT)
    low = MARGIN_MM - board.paper.height_mm / 2
    line = _BIKE if board.held_on_bike else _PRINT
    axes.text(0, low, line, ha="center", va="bottom", fontsize=TEXT_PT)


def _draw_arrow(axes: Axes, board: Board) -> None:
    x, foot = _side_mm(board), board.height_mm / 2 - ARROW_MM - 12
    shaft, head = 1.5, 5.0
    neck = foot + ARROW_MM - 10
    outline = (
        (x - shaft, foot),
        (x + shaft, foot),
        (x + shaft, neck),
        (x + head, neck),
        (x, foot + ARROW_MM),
        (x - head, neck),
        (x - shaft, neck),
    )
    axes.add_patch(Polygon(outline, facecolor="black", linewidth=0))
    axes.text(x, foot + ARROW_MM + 3, "up", ha="center", va="bottom", fontsize=NAME_PT)


def _draw_middle(axes: Axes) -> None:
    hairline = HAIRLINE_MM * PT_PER_MM
    axes.add_patch(
        Circle((0, 0), MIDDLE_DISC_MM, facecolor="white", edgecolor="black", lw=hairline)
    )
    axes.add_patch(Circle((0, 0), RING_MM, fill=False, edgecolor="black", lw=hairline))
    across = (-MIDDLE_DISC_MM, MIDDLE_DISC_MM)
    axes.plot(across, (0, 0), color="black", lw=hairline)
    axes.plot((0, 0), across, color="black", lw=hairline)


def write_board(board: Board, black_mm: FloatArray, path: Path) -> None:
    """Write the page to a file, whole or not at all.

    Raises:
        BadInput: it cannot be written.
    """
    page = board_pdf(board, black_mm)
    part = path.with_name(f".{path.name}.part")
    try:
        part.write_bytes(page)
        os.replace(part, path)
    except OSError as error:
        raise BadInput(
            f"{path} cannot be written ({error.strerror or error}).",
            "Name a folder that can be written to.",
        ) from error
    finally:
        part.unlink(missing_ok=True)
