"""A board held at the bike, read from a still picture or a short clip."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from posewatch.camera.bike_view import BoardView, flat_scale_px_per_mm
from posewatch.camera.board_sightings import BoardSighting, find_board
from posewatch.camera.clip import Clip
from posewatch.camera.still_pictures import is_still, read_still
from posewatch.camera.still_stretch import STRETCH_FRAMES, StillStretch, stillest
from posewatch.core.boards import BOARDS, Board
from posewatch.core.plane import Lens
from posewatch.core.sources import Picture
from posewatch.errors import BadInput

#: A clip is read no further than this; twenty seconds are plenty.
MOST_FRAMES = 600
#: Where the board is still is looked for in every so many pictures.
GLANCE_FRAMES = 6
#: Where two seconds were not still, shorter stretches are tried.
STRETCHES = (STRETCH_FRAMES, 30, 15)
#: Fewer sightings in a clip's stillest two seconds than this are no steady view of a board.
FEWEST_SIGHTINGS = 10
#: A board that moves more than this (one SD) was not held still.
STILL_MM = 3.0


@dataclass(frozen=True, slots=True)
class HeldBoard:
    """A board as it was held at one place: which it is, its corners, and how still it was.

    n_frames: pictures averaged. scatter_mm: one SD of its movement.
    """

    board: Board
    view: BoardView
    n_frames: int
    scatter_mm: float


def read_held_board(
    path: Path, lens: Lens, bar_mm: float, on_picture: Callable[[int], None] = lambda n: None
) -> HeldBoard:
    """Return the bike board in a picture or clip, averaged over its stillest two seconds.

    bar_mm: measured length of the bar printed beside the board. on_picture: told how many pictures
    were searched.

    Raises:
        BadInput: no file, pictures of another size than the lens, no bike board, or a board that
            was not held still.
    """
    search = _Search(path, lens, bar_mm, on_picture)
    if is_still(path):
        search.look(0, read_still(path))
        return search.held(1)
    clip = Clip(path)
    try:
        first = _stillest_part(clip, search)
        for number, timed in enumerate(clip):
            if number >= first + STRETCH_FRAMES:
                break
            if number >= first:
                search.look(number, timed.rgb)
    finally:
        clip.close()
    return search.held(FEWEST_SIGHTINGS)


class _Search:
    """Sightings of the bike board in some pictures of one file."""

    def __init__(
        self, path: Path, lens: Lens, bar_mm: float, on_picture: Callable[[int], None]
    ) -> None:
        self._path, self._lens, self._on_picture = path, lens, on_picture
        self._boards = [board.printed(bar_mm) for board in BOARDS if board.held_on_bike]
        self._n_searched = 0
        self.n_looked = 0
        self.found: list[tuple[int, BoardSighting]] = []

    def look(self, number: int, rgb: Picture) -> None:
        _require_size(self._path, rgb, self._lens)
        self.n_looked += 1
        self._n_searched += 1
        sighting = find_board(rgb, self._boards)
        if sighting is not None and self.found and sighting.board != self.found[0][1].board:
            sighting = None
        if sighting is not None:
            self.found.append((number, sighting))
        self._on_picture(self._n_searched)

    def stillest(self, n_frames: int = STRETCH_FRAMES) -> StillStretch | None:
        ids = [sighting.corner_ids for _, sighting in self.found]
        return stillest(ids, [sighting.corners_px for _, sighting in self.found], n_frames)

    def start_anew(self) -> None:
        self.n_looked = 0
        self.found = []

    def held(self, least: int) -> HeldBoard:
        """Return the mean over the longest stretch that was still."""
        held = None
        for n_frames in STRETCHES:
            still = self.stillest(n_frames)
            if len(self.found) < least or still is None:
                raise BadInput(
                    f"A bike board is seen in {len(self.found)} of {self.n_looked} pictures of "
                    f"{self._path}; {least} are needed.",
                    "Hold the printed side to the camera for two seconds, nothing over it, in even "
                    "light; a larger board or a larger picture is read from further away.",
                )
            held = _held(self.found[0][1].board, still)
            if held.scatter_mm <= STILL_MM:
                return held
        assert held is not None
        raise BadInput(
            f"The board in {self._path} was not held still: it moved by {held.scatter_mm:.1f} mm "
            f"(SD) in its stillest {held.n_frames} pictures; at most {STILL_MM:g} are allowed.",
            "Rest it against the axle, hold it for two seconds, and film that again.",
        )


def _stillest_part(clip: Clip, search: _Search) -> int:
    """Return where the two seconds to average begin, from a glance at every sixth picture."""
    n_frames = 0
    for number, timed in enumerate(clip):
        if number == MOST_FRAMES:
            break
        n_frames = number + 1
        if number % GLANCE_FRAMES == 0:
            search.look(number, timed.rgb)
    glance = search.stillest(STRETCH_FRAMES // GLANCE_FRAMES)
    first = 0 if glance is None else search.found[glance.first][0]
    search.start_anew()
    return max(0, min(first, n_frames - STRETCH_FRAMES))


def _held(board: Board, still: StillStretch) -> HeldBoard:
    points_mm = board.corners_mm(still.corner_ids)
    scatter_mm = 0.0
    if len(points_mm) > 1:
        scatter_mm = still.scatter_px / flat_scale_px_per_mm(points_mm, still.corners_px)
    view = BoardView(points_mm, still.corners_px, still.corner_sd_px)
    return HeldBoard(board, view, still.n_frames, scatter_mm)


def _require_size(path: Path, rgb: Picture, lens: Lens) -> None:
    height, width = rgb.shape[:2]
    if (width, height) != (lens.width_px, lens.height_px):
        raise BadInput(
            f"The pictures of {path} are {width} x {height} px; the lens was calibrated at "
            f"{lens.width_px} x {lens.height_px} px.",
            "Film with the size the lens was calibrated at, or calibrate it at this size.",
        )
