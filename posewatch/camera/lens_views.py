"""Gathering views of a board for a lens calibration: a folder of pictures, a clip, a camera."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from posewatch.camera.board_sightings import BoardSighting, find_board
from posewatch.camera.lens_calibration import SAME_SHARE, LensView
from posewatch.camera.still_pictures import STILLS, is_still, read_still
from posewatch.core.boards import Board
from posewatch.core.lens_calibration import Refusal, RejectedView
from posewatch.core.sources import Picture, TimedPicture
from posewatch.core.timebase import to_s
from posewatch.errors import BadInput

#: A moving picture is looked at so often; a view is taken at most so often.
LOOK_NS, TAKE_NS = 100_000_000, 500_000_000
#: The board is still if its corners moved less than this between two looks.
STILL_PX = 1.0

#: Called with how many pictures were looked at, and what the last one came to.
Looked = Callable[[int, str], None]


@dataclass(frozen=True, slots=True, eq=False)
class Sighted:
    """One picture: its name, width and height (0 = not readable), and the board in it."""

    name: str
    size_px: tuple[int, int]
    sighting: BoardSighting | None


@dataclass(frozen=True, slots=True, eq=False)
class Gathered:
    """Views of one board in pictures of one size, and what was left out."""

    board: Board
    size_px: tuple[int, int]
    views: tuple[LensView, ...]
    rejected: tuple[RejectedView, ...]


def look_through_folder(folder: Path, boards: Iterable[Board], looked: Looked) -> list[Sighted]:
    """Look for a board in every picture of a folder, by name.

    Raises:
        BadInput: there are no pictures in it.
    """
    paths = sorted(path for path in folder.iterdir() if is_still(path))
    if not paths:
        raise BadInput(
            f"There are no pictures in {folder}.",
            f"Put 15 to 25 pictures of a lens board there ({', '.join(STILLS)}).",
        )
    choice = tuple(boards)
    seen = []
    for n, path in enumerate(paths, start=1):
        try:
            rgb = read_still(path)
        except BadInput:  # told as a view without a board
            seen.append(Sighted(path.name, (0, 0), None))
        else:
            seen.append(Sighted(path.name, _size(rgb), find_board(rgb, choice)))
        looked(n, f"{path.name}: {_found(seen[-1].sighting)}")
    return seen


def look_through_stream(
    pictures: Iterable[TimedPicture], boards: Iterable[Board], looked: Looked
) -> Iterator[Sighted]:
    """Give a view whenever a board is still as it was not before, at most every half second."""
    choice = tuple(boards)
    before: BoardSighting | None = None
    taken: list[BoardSighting] = []
    next_look_ns = next_take_ns = 0
    for picture in pictures:
        if picture.t_ns < next_look_ns:
            continue
        next_look_ns = picture.t_ns + LOOK_NS
        sighting = find_board(picture.rgb, choice)
        state = ""
        if sighting is not None and before is not None and _apart_px(before, sighting) < STILL_PX:
            same_px = SAME_SHARE * picture.rgb.shape[1]
            state = ", still"
            if any(_apart_px(one, sighting) < same_px for one in taken):
                state = ", taken: hold it differently"
            elif picture.t_ns >= next_take_ns:
                next_take_ns = picture.t_ns + TAKE_NS
                taken.append(sighting)
                yield Sighted(f"{to_s(picture.t_ns):.1f} s", _size(picture.rgb), sighting)
        before = sighting
        looked(len(taken), _found(sighting) + state)


def gather(sighted: Sequence[Sighted]) -> Gathered:
    """Return the views of the board and of the picture size that occur most.

    Raises:
        BadInput: no board was found at all.
    """
    boards = Counter(one.sighting.board for one in sighted if one.sighting is not None)
    if not boards:
        raise BadInput(
            f"No board was found in {len(sighted)} pictures."
            if sighted
            else "No board was seen that was held still.",
            "Hold a printed lens board so that it fills half of the picture, well lit and still; "
            "`posewatch camera board` writes the boards.",
        )
    board = boards.most_common(1)[0][0]
    sizes = Counter(one.size_px for one in sighted if one.sighting is not None)
    size_px = sizes.most_common(1)[0][0]
    views, rejected = [], []
    for one in sighted:
        if one.size_px == (0, 0):
            rejected.append(RejectedView(one.name, Refusal.NO_PICTURE))
        elif one.size_px != size_px:
            detail = f"{one.size_px[0]} x {one.size_px[1]} px"
            rejected.append(RejectedView(one.name, Refusal.OTHER_SIZE, detail))
        elif one.sighting is None:
            rejected.append(RejectedView(one.name, Refusal.NO_BOARD))
        elif one.sighting.board != board:
            name = one.sighting.board.name
            rejected.append(RejectedView(one.name, Refusal.OTHER_BOARD, name))
        else:
            found = one.sighting
            views.append(LensView(one.name, found.points_mm, found.corners_px, found.edge_px))
    return Gathered(board, size_px, tuple(views), tuple(rejected))


def _size(rgb: Picture) -> tuple[int, int]:
    return rgb.shape[1], rgb.shape[0]


def _found(sighting: BoardSighting | None) -> str:
    if sighting is None:
        return "no board"
    return f"{sighting.board.name}, {len(sighting.corner_ids)} corners"


def _apart_px(one: BoardSighting, other: BoardSighting) -> float:
    """Return how far a board lies from where it was; infinity = not the same corners."""
    _, first, second = np.intersect1d(one.corner_ids, other.corner_ids, return_indices=True)
    if one.board != other.board or not len(first):
        return float("inf")
    moved = np.linalg.norm(one.corners_px[first] - other.corners_px[second], axis=1)
    return float(np.median(moved))
