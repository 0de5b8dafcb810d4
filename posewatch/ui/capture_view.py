"""What is said while a target is being captured. Without Qt."""

from __future__ import annotations

from dataclasses import dataclass

from posewatch.core.capture import MIN_STROKES, MIN_STROKES_A_SIT
from posewatch.core.capture_progress import CaptureProgress
from posewatch.core.envelope import SITS_WANTED

RIDE = "Sit as fitted and pedal at a steady 60 to 110 rpm."
OPENING = "Opening the source."
WORKING_OUT = "Working out the target from what was ridden."


@dataclass(frozen=True, slots=True)
class SitCell:
    """One sit's cell: its number from 1, its strokes, and whether it is the one under way."""

    number: int
    strokes: int
    current: bool

    @property
    def is_full(self) -> bool:
        """Whether it has its strokes."""
        return self.strokes >= MIN_STROKES_A_SIT

    @property
    def text(self) -> str:
        """Strokes of those wanted."""
        return f"sit {self.number}: {self.strokes}/{MIN_STROKES_A_SIT}"


NO_SITS = tuple(SitCell(number, 0, False) for number in range(1, SITS_WANTED + 1))


def cells(counted: CaptureProgress | None) -> tuple[SitCell, ...]:
    """Return the cells of the sits wanted; of more sits, the last ones."""
    if counted is None:
        return NO_SITS
    last = len(counted.sits)
    numbered = [SitCell(n, strokes, n == last) for n, strokes in enumerate(counted.sits, start=1)]
    return (*numbered, *NO_SITS[last:])[-SITS_WANTED:]


def prompt(counted: CaptureProgress | None, ready: bool, stopping: bool) -> str:
    """Return what is to be done now.

    ready: the source is open. stopping: what was ridden is being worked out.
    """
    if stopping:
        return WORKING_OUT
    if counted is None:
        return RIDE if ready else OPENING
    if counted.has_all_sits:
        return "All three sits have their strokes: end the capture."
    number, strokes = len(counted.sits), counted.sits[-1]
    if strokes >= MIN_STROKES_A_SIT:
        return f"Sit {number} is full. Leave the saddle, sit down again and pedal on."
    left = MIN_STROKES_A_SIT - strokes
    if counted.why:
        return f"Not counting: {counted.why}."
    return f"Sit {number}: {left} more {'stroke' if left == 1 else 'strokes'}, steady as now."


def early_end(counted: CaptureProgress | None) -> str:
    """Say what ending now would come to."""
    if counted is None or counted.has_all_sits:
        return ""
    if counted.is_enough:
        return "Ended now, the target cannot tell what a fresh sit adds."
    missing = MIN_STROKES - counted.n_strokes
    return f"Ended now, {missing} strokes are missing for a target."
