"""Which side of the rider the camera sees, once it has stood for a while.

A rider who mounts may face anywhere for a moment, and a mistake in the middle of a ride must not
cost what was recorded.
"""

from __future__ import annotations

from dataclasses import dataclass

from posewatch.core.records import NS_PER_S, Side

#: A side is believed to be the rider's when it has stood for so long.
SIDE_STANDS_NS = 3 * NS_PER_S


@dataclass(frozen=True, slots=True)
class SideSeen:
    """The side that the camera sees, and since when. told: it was said, which happens once."""

    side: Side | None = None
    since_ns: int = 0
    told: bool = False


def step(state: SideSeen, t_ns: int, side: Side | None) -> tuple[SideSeen, bool]:
    """Take in what one picture says; True exactly once, when a side has stood for long enough."""
    if side is not state.side:
        state = SideSeen(side, t_ns, state.told)
    if state.told or state.side is None or t_ns - state.since_ns < SIDE_STANDS_NS:
        return state, False
    return SideSeen(state.side, state.since_ns, True), True
