"""Did the wall clock step, or the machine sleep? Told from clocks read again and again.

Session time is a clock that never steps and runs on while the machine sleeps. A step of the wall
clock therefore changes no time that counts; it is told, and seen in the anchors. A sleep is a gap
before the next picture.
"""

from __future__ import annotations

from dataclasses import dataclass

from posewatch.core.records import CLOCK, NS_PER_S, SourceCondition, SourceState
from posewatch.core.timebase import to_s

#: Clocks may part by so much between two looks; more is a step or a sleep. A time service that
#: slews does so slowly (by 8 % at the most), and looks come several times a second.
JUMP_NS = NS_PER_S // 2


@dataclass(frozen=True, slots=True)
class Clocks:
    """The clocks at one moment, ns.

    running_ns, awake_ns: never step, from arbitrary starts; the first runs on while the machine
    sleeps, the second stands still. wall_ns: since 1970-01-01 UTC, as somebody or a time service
    set it.
    """

    running_ns: int
    awake_ns: int
    wall_ns: int


@dataclass(frozen=True, slots=True)
class Jump:
    """What came between two looks: for how long the machine slept, how far the wall clock stepped.

    Either is 0 where it did not.
    """

    slept_ns: int = 0
    stepped_ns: int = 0


def between(before: Clocks, now: Clocks) -> Jump:
    """Return what came between two looks at the clocks."""
    ran_ns = now.running_ns - before.running_ns
    slept_ns = ran_ns - (now.awake_ns - before.awake_ns)
    stepped_ns = now.wall_ns - before.wall_ns - ran_ns
    return Jump(
        slept_ns if slept_ns > JUMP_NS else 0, stepped_ns if abs(stepped_ns) > JUMP_NS else 0
    )


def step_told(t_ns: int, stepped_ns: int) -> SourceState:
    """Return what is logged and told of a step of the wall clock at session time t_ns."""
    way = "forward" if stepped_ns > 0 else "back"
    return SourceState(
        t_ns,
        CLOCK,
        SourceCondition.STEPPED,
        f"This computer's clock was set {way} by {duration_words(abs(stepped_ns))}. Nothing that "
        "counts changes; times of day from before and after do not fit together.",
    )


def duration_words(ns: int) -> str:
    """Return a duration in words, as exact as a person wants it: "0.7 s", "5 min", "1.0 h"."""
    seconds = to_s(ns)
    if seconds < 120:
        return f"{seconds:.1f} s"
    return f"{seconds / 60:.0f} min" if seconds < 7200 else f"{seconds / 3600:.1f} h"
