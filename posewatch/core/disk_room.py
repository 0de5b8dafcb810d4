"""Is there room for the log? Decided from free bytes, as often as somebody looks.

Free bytes and not minutes left: other programs fill a drive in jumps, and a rate estimated from
those stops good recordings, or none.
"""

from __future__ import annotations

from enum import IntEnum
from pathlib import Path

from posewatch.core.readiness import DISK_NEEDED_BYTES
from posewatch.core.records import DISK, SourceCondition, SourceState
from posewatch.errors import BadInput, PosewatchError

#: A watch begins with so much room; it is told when less is left, and that there is room again
#: with a tenth more. Two hours of a watch take under 0.1 GB.
LITTLE_BYTES = DISK_NEEDED_BYTES
ENOUGH_BYTES = LITTLE_BYTES * 11 // 10
#: A watch ends before the drive is full: its ending, and other programs, need some room.
FULL_BYTES = 100_000_000
#: A video takes some 1 GB an hour, at the size and rate of a webcam: so much is there when it
#: begins, and it ends where little is left, since the record goes before it.
VIDEO_BEGINS_BYTES = 2_000_000_000


class Room(IntEnum):
    """How much room is left."""

    FULL = 0
    LITTLE = 1
    ENOUGH = 2


def room_left(before: Room, free_bytes: int) -> Room:
    """Return how it stands now. free_bytes: -1 = not known, which changes nothing."""
    if free_bytes < 0:
        return before
    if free_bytes < FULL_BYTES:
        return Room.FULL
    little = LITTLE_BYTES if before is Room.ENOUGH else ENOUGH_BYTES
    return Room.LITTLE if free_bytes < little else Room.ENOUGH


def room_told(t_ns: int, room: Room, free_bytes: int, folder: Path) -> SourceState:
    """Return what is logged and told of a change at session time t_ns."""
    left = f"{free_bytes / 1e6:.0f} MB are left on the drive of {folder}"
    condition, text = {
        Room.ENOUGH: (SourceCondition.RUNNING, f"There is room again: {left}."),
        Room.LITTLE: (
            SourceCondition.LITTLE,
            f"Only {left}: free some room. The watch ends when under {FULL_BYTES / 1e6:.0f} MB "
            "are left.",
        ),
        Room.FULL: (SourceCondition.FULL, f"Only {left}: the watch ends here."),
    }[room]
    return SourceState(t_ns, DISK, condition, text)


def ended_by(free_bytes: int, folder: Path) -> PosewatchError:
    """Return the error that ends a watch for want of room."""
    return PosewatchError(
        f"The watch was ended, since only {free_bytes / 1e6:.0f} MB are left on the drive of "
        f"{folder}.",
        "What was recorded is kept. Free some room there, then begin again.",
    )


def ends_video(free_bytes: int) -> bool:
    """Tell whether what is left is needed for the record. free_bytes: -1 = not known."""
    return 0 <= free_bytes < LITTLE_BYTES


def require_room(free_bytes: int, folder: Path, needed_bytes: int = LITTLE_BYTES) -> None:
    """Refuse to begin without enough room. free_bytes: -1 = not known, which passes.

    Raises:
        BadInput: too little is left.
    """
    if 0 <= free_bytes < needed_bytes:
        raise BadInput(
            f"Only {free_bytes / 1e6:.0f} MB are left on the drive of {folder}; "
            f"{needed_bytes / 1e6:.0f} MB are needed to begin.",
            "Free some room there, or choose a folder on another drive.",
        )
