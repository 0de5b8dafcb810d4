"""The printable boards: chessboards with a numbered marker in every white square (ChArUco).

Board places are millimetres from the board's middle, x to the right and y up as one looks at the
print. The square at the top left is black. Corners are the inner ones, numbered row by row from the
top left; markers are numbered the same way. No two boards share a marker number, so that a board
is known by any of its markers.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import Enum
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from posewatch.core.records import FloatArray
from posewatch.errors import BadInput

#: Length of the bar that is printed beside every board, mm.
BAR_MM = 100.0
#: A bar beyond this was printed to fit the page, or was not measured in millimetres.
BAR_SHORTEST_MM, BAR_LONGEST_MM = 80.0, 120.0
#: A white disc with a ring to pierce marks the middle of a bike board, radius in mm.
MIDDLE_DISC_MM = 4.0


class Paper(Enum):
    """A sheet lying on its long side: width and height in mm (ISO 216)."""

    A4 = (297.0, 210.0)
    A3 = (420.0, 297.0)

    @property
    def width_mm(self) -> float:
        """The longer side."""
        return self.value[0]

    @property
    def height_mm(self) -> float:
        """The shorter side."""
        return self.value[1]


@dataclass(frozen=True)
class Board:
    """One board. first_id: the number of its first marker."""

    name: str
    paper: Paper
    squares_across: int
    squares_up: int
    square_mm: float
    marker_mm: float
    first_id: int

    @property
    def width_mm(self) -> float:
        """Over all squares."""
        return self.squares_across * self.square_mm

    @property
    def height_mm(self) -> float:
        """Over all squares."""
        return self.squares_up * self.square_mm

    @property
    def n_corners(self) -> int:
        """How many inner corners it has."""
        return (self.squares_across - 1) * (self.squares_up - 1)

    @property
    def marker_ids(self) -> range:
        """The numbers of its markers, one for every white square."""
        return range(self.first_id, self.first_id + self.squares_across * self.squares_up // 2)

    @property
    def held_on_bike(self) -> bool:
        """Its middle is put at an axle; otherwise it is for calibrating the lens."""
        return self.name.startswith("bike")

    def is_black(self, column: int, row: int) -> bool:
        """Tell whether a square is black; counted from the top left."""
        return (column + row) % 2 == 0

    def corners_mm(self, ids: Sequence[int] | NDArray[np.int64] | None = None) -> FloatArray:
        """Return (n, 2) places of the corners with these numbers, by default of all."""
        chosen = np.arange(self.n_corners) if ids is None else np.asarray(ids, np.int64)
        corners: FloatArray = self._all_corners_mm[chosen]
        return corners

    def markers_mm(self) -> FloatArray:
        """Return (n_markers, 4, 2) corners of the markers, from the top left, clockwise."""
        half = self.marker_mm / 2
        around = np.array(((-half, half), (half, half), (half, -half), (-half, -half)))
        middles = [
            self._grid_mm(column + 0.5, row + 0.5)
            for row in range(self.squares_up)
            for column in range(self.squares_across)
            if not self.is_black(column, row)
        ]
        corners: FloatArray = np.array(middles)[:, None, :] + around
        return corners

    def printed(self, bar_mm: float) -> Board:
        """Return the board as it came out of a printer that made the 100 mm bar this long.

        Raises:
            BadInput: no printer's scale: the page was fitted, or another unit was read.
        """
        if not BAR_SHORTEST_MM <= bar_mm <= BAR_LONGEST_MM:
            raise BadInput(
                f"The bar of the board cannot be {bar_mm:g} mm long; it is printed "
                f"{BAR_MM:g} mm long.",
                "Measure it in millimetres, to a tenth; if it is true, print again at 100 %.",
            )
        scale = bar_mm / BAR_MM
        return replace(self, square_mm=self.square_mm * scale, marker_mm=self.marker_mm * scale)

    @cached_property
    def _all_corners_mm(self) -> FloatArray:
        places = [
            self._grid_mm(column, row)
            for row in range(1, self.squares_up)
            for column in range(1, self.squares_across)
        ]
        return np.array(places)

    def _grid_mm(self, columns: float, rows: float) -> tuple[float, float]:
        """Return the place so many squares right of and below the top left."""
        return (
            columns * self.square_mm - self.width_mm / 2,
            self.height_mm / 2 - rows * self.square_mm,
        )


#: Bike boards have the largest squares that leave six corners: at 4 mm a pixel a square of the A4
#: board is 15 pixels wide, where nine markers of ten are still read (at 12 pixels six of ten).
BOARDS = (
    Board("bike-a4", Paper.A4, 4, 3, 60.0, 48.0, 0),
    Board("bike-a3", Paper.A3, 4, 3, 88.0, 70.4, 6),
    Board("lens-a4", Paper.A4, 9, 6, 28.0, 21.0, 12),
    Board("lens-a3", Paper.A3, 10, 7, 36.0, 27.0, 39),
)


def board_named(name: str) -> Board:
    """Return the board of this name, as drawn.

    Raises:
        BadInput: there is no such board.
    """
    for board in BOARDS:
        if board.name == name:
            return board
    raise BadInput(
        f"There is no board {name!r}.",
        f"The boards are {', '.join(board.name for board in BOARDS)}.",
    )
