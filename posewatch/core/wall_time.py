"""Wall time at moments of session time, from readings of the wall clock (anchors)."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import pairwise

from posewatch.core.records import NS_PER_S

#: Two anchors whose clocks parted by more than this have a step or a sleep of the machine between
#: them; less is drift, or a clock that is being slewed.
JUMP_NS = NS_PER_S // 2


@dataclass(frozen=True, slots=True)
class Jump:
    """The wall clock left the session's by jump_ns, somewhere between two moments."""

    after_ns: int
    before_ns: int
    jump_ns: int


@dataclass(frozen=True, slots=True)
class WallClock:
    """A session's wall clock.

    anchors: (session time, wall time since 1970 UTC), ns, in the order of session time.
    """

    anchors: tuple[tuple[int, int], ...]

    def at(self, t_ns: int) -> int | None:
        """Return the wall time, ns since 1970 UTC; None = the wall clock was never read.

        Between two anchors it is interpolated; before the first and after the last it runs as
        session time does. Where the clock jumped between two anchors nobody knows when: up to the
        later one it runs on from the earlier, so that the whole jump shows at the later one.
        """
        if not self.anchors:
            return None
        place = max(0, bisect_right(self.anchors, t_ns, key=lambda anchor: anchor[0]) - 1)
        t0_ns, wall_ns = self.anchors[place]
        since_ns = t_ns - t0_ns
        if since_ns <= 0 or place + 1 == len(self.anchors):
            return wall_ns + since_ns
        t1_ns, later_ns = self.anchors[place + 1]
        parted_ns = (later_ns - wall_ns) - (t1_ns - t0_ns)
        if abs(parted_ns) > JUMP_NS:
            return wall_ns + since_ns
        return wall_ns + since_ns + parted_ns * since_ns // (t1_ns - t0_ns)

    @property
    def jumps(self) -> tuple[Jump, ...]:
        """Where the wall clock jumped."""
        return tuple(
            Jump(t0_ns, t1_ns, parted_ns)
            for (t0_ns, wall0_ns), (t1_ns, wall1_ns) in pairwise(self.anchors)
            if abs(parted_ns := (wall1_ns - wall0_ns) - (t1_ns - t0_ns)) > JUMP_NS
        )


def utc_text(wall_ns: int) -> str:
    """Return a wall time as ISO 8601 in UTC, to the microsecond: 2025-03-01T09:11:12.000001Z."""
    microseconds, rest_ns = divmod(wall_ns, 1000)
    seconds, microsecond = divmod(microseconds + (rest_ns >= 500), 1_000_000)
    moment = datetime.fromtimestamp(seconds, UTC).replace(microsecond=microsecond)
    return moment.isoformat(timespec="microseconds").replace("+00:00", "Z")
