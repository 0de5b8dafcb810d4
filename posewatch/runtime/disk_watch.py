"""Room on the drive of a log: looked at before it begins, and every few seconds while it grows."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

from posewatch.core import disk_room
from posewatch.core.disk_room import Room
from posewatch.core.records import NS_PER_S, SourceState
from posewatch.runtime import clock
from posewatch.runtime.health import HealthMeter

LOOK_EVERY_NS = 5 * NS_PER_S


def free_bytes(folder: Path) -> int:
    """Return how much is free where a folder is or will be, -1 = not known."""
    there = next((one for one in (folder, *folder.parents) if one.is_dir()), None)
    try:
        return -1 if there is None else shutil.disk_usage(there).free
    except OSError:
        return -1


def require_room(folder: Path, needed_bytes: int = disk_room.LITTLE_BYTES) -> None:
    """Refuse to begin a log without enough room.

    Raises:
        BadInput: too little is left.
    """
    disk_room.require_room(free_bytes(folder), folder, needed_bytes)


class DiskWatch:
    """Looks at the room on a log's drive while it is written; health learns it too."""

    def __init__(self, folder: Path, health: HealthMeter) -> None:
        self._folder, self._health = folder, health
        self._room = Room.ENOUGH
        self._due_ns = clock.monotonic_ns()

    def told(self, t_ns: int) -> Iterator[SourceState]:
        """Give what is to be told at session time t_ns, mostly nothing.

        Raises:
            PosewatchError: the drive is nearly full; after that was told.
        """
        now_ns = clock.monotonic_ns()
        if now_ns < self._due_ns:
            return
        self._due_ns = now_ns + LOOK_EVERY_NS
        free = self._health.disk_free_bytes = free_bytes(self._folder)
        room = disk_room.room_left(self._room, free)
        if room is not self._room:
            self._room = room
            yield disk_room.room_told(t_ns, room, free, self._folder)
        if room is Room.FULL:
            raise disk_room.ended_by(free, self._folder)
