"""How full the tray of beads is: one bead a counted stroke, none ever taken out. Without Qt."""

from __future__ import annotations

import math
from dataclasses import dataclass

#: A bead falls for so long, in so many steps.
FALL_NS = 350_000_000
FALL_STEPS = 10
#: More beads than these nobody can tell apart from the saddle: then one stands for several.
MOST_BEADS = 300


@dataclass(frozen=True, slots=True)
class Beads:
    """What the tray shows: filled of slots, the last ``falling`` of them still on their way.

    fallen: how far, 0 to 1.
    """

    filled: int
    slots: int
    falling: int
    fallen: float


NO_BEADS = Beads(0, 0, 0, 1.0)


@dataclass(frozen=True, slots=True)
class TrayMemory:
    """Strokes counted so far in this watch, and how many beads came last, when."""

    counted: int = 0
    came: int = 0
    came_ns: int = 0


def fill(before: TrayMemory, counted: int, goal: int, now_ns: int) -> tuple[TrayMemory, Beads]:
    """Let the beads in that have come; goal = 0: there is no tray."""
    if goal <= 0:
        return before, NO_BEADS
    strokes_each = math.ceil(goal / MOST_BEADS)
    slots = math.ceil(goal / strokes_each)
    counted = max(before.counted, counted)

    def beads(strokes: int) -> int:
        return slots if strokes >= goal else strokes // strokes_each

    filled = beads(counted)
    new = filled - beads(before.counted)
    tray = TrayMemory(counted, before.came, before.came_ns)
    if new:
        tray = TrayMemory(counted, new, now_ns)
    fallen = min(1.0, (now_ns - tray.came_ns) / FALL_NS) if tray.came else 1.0
    fallen = math.floor(fallen * FALL_STEPS) / FALL_STEPS
    return tray, Beads(filled, slots, tray.came if fallen < 1.0 else 0, fallen)
