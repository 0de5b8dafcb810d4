"""When the room for a log is little, and when it ends a watch."""

from __future__ import annotations

from pathlib import Path

import pytest

from posewatch.core.disk_room import (
    ENOUGH_BYTES,
    FULL_BYTES,
    LITTLE_BYTES,
    VIDEO_BEGINS_BYTES,
    Room,
    ended_by,
    ends_video,
    require_room,
    room_left,
    room_told,
)
from posewatch.core.records import DISK, SourceCondition
from posewatch.errors import BadInput

FOLDER = Path("somewhere")


@pytest.mark.parametrize(
    ("before", "free", "room"),
    [
        (Room.ENOUGH, 10**12, Room.ENOUGH),
        (Room.ENOUGH, LITTLE_BYTES, Room.ENOUGH),
        (Room.ENOUGH, LITTLE_BYTES - 1, Room.LITTLE),
        (Room.ENOUGH, FULL_BYTES, Room.LITTLE),
        (Room.ENOUGH, FULL_BYTES - 1, Room.FULL),
        (Room.LITTLE, FULL_BYTES - 1, Room.FULL),
        (Room.LITTLE, 0, Room.FULL),
        # Told again only where it is clearly more: a drive at the limit would not stop telling.
        (Room.LITTLE, ENOUGH_BYTES - 1, Room.LITTLE),
        (Room.LITTLE, ENOUGH_BYTES, Room.ENOUGH),
        (Room.LITTLE, -1, Room.LITTLE),
        (Room.ENOUGH, -1, Room.ENOUGH),
    ],
)
def test_how_it_stands(before: Room, free: int, room: Room) -> None:
    assert room_left(before, free) is room


def test_each_change_is_told_with_what_is_left_and_what_to_do() -> None:
    little = room_told(7, Room.LITTLE, 450_000_000, FOLDER)
    assert (little.t_ns, little.source, little.condition) == (7, DISK, SourceCondition.LITTLE)
    assert little.text == (
        "Only 450 MB are left on the drive of somewhere: free some room. The watch ends when under "
        "100 MB are left."
    )
    assert room_told(7, Room.FULL, 90_000_000, FOLDER).condition is SourceCondition.FULL
    assert room_told(7, Room.ENOUGH, 10**9, FOLDER).condition is SourceCondition.RUNNING


def test_a_full_drive_ends_a_watch_in_words() -> None:
    assert str(ended_by(90_000_000, FOLDER)) == (
        "The watch was ended, since only 90 MB are left on the drive of somewhere. What was "
        "recorded is kept. Free some room there, then begin again."
    )


@pytest.mark.parametrize(
    ("free", "ends"), [(LITTLE_BYTES - 1, True), (LITTLE_BYTES, False), (0, True), (-1, False)]
)
def test_a_video_ends_before_the_record(free: int, ends: bool) -> None:
    assert ends_video(free) is ends
    assert LITTLE_BYTES < VIDEO_BEGINS_BYTES


def test_nothing_begins_without_room() -> None:
    require_room(LITTLE_BYTES, FOLDER)
    require_room(-1, FOLDER)
    with pytest.raises(BadInput, match=r"Only 0 MB .* 500 MB are needed to begin"):
        require_room(0, FOLDER)
    with pytest.raises(BadInput, match=r"Only 500 MB .* 2000 MB are needed to begin"):
        require_room(LITTLE_BYTES, FOLDER, VIDEO_BEGINS_BYTES)
