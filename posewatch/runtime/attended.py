"""Frames, an operator's commands, the camera's conditions and the passing of time, in one order.

What comes out is logged with its place in the order, and replayed by it.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Protocol

from posewatch.core import camera_watch, clock_watch
from posewatch.core.camera_watch import CameraWatchState, Glimpse, Limits
from posewatch.core.clock_watch import Clocks
from posewatch.core.records import NS_PER_S, Command, Input, Seen, SourceState, Tick
from posewatch.runtime import clock
from posewatch.runtime.controls import Controls

#: A wait for a picture ends after this, so that a stop, a command or a dead camera is not missed.
POLL_S = 0.1
#: Time is let pass for those who wait in it only this often.
TICK_NS = NS_PER_S // 4


@dataclass(frozen=True, slots=True)
class LiveClock:
    """What a live source tells besides pictures: the session's time, and how the camera does.

    clocks: reads this machine's.
    """

    now_ns: Callable[[], int]
    glimpse: Callable[[], Glimpse]
    limits: Limits
    clocks: Callable[[], Clocks] = clock.clocks


class Sensors(Protocol):
    """What comes of sensors; it never waits."""

    def begin(self, now_ns: int) -> list[Input]: ...

    def taken(self, now_ns: int) -> list[Input]: ...


class Beside(Protocol):
    """Who looks after something beside the pictures: the drive, the video. It never waits."""

    def told(self, t_ns: int) -> Iterable[SourceState]: ...


def attended(
    items: Iterable[Seen | None],
    controls: Controls,
    stop: threading.Event,
    live: LiveClock | None,
    sensors: Sensors | None = None,
    beside: Sequence[Beside] = (),
) -> Iterator[Input]:
    """Give inputs in the order in which they are to be consumed, until they end or stop is set.

    Args:
        items: frames and what the view says, None = nothing came for a moment.
        controls: where commands come from; each comes before the first picture that is later.
        stop: ends it.
        live: None = a clip or recording, whose clock is that of its pictures: commands come at
            the last picture's time, nothing ticks, and neither camera nor clocks are watched.
        sensors: what they say comes before the first picture that is later; None = there are none.
        beside: what they say comes before the picture at hand.

    Raises:
        PosewatchError: the drive of the log is nearly full.
    """
    t_ns = ticked_ns = 0
    said: list[Command] = []
    looking = None if live is None else _Looking(live, live.clocks())
    begun = False
    for item in items:
        if stop.is_set():
            return
        now_ns = t_ns if live is None else live.now_ns()
        if sensors is not None:
            heard_ns = item.t_ns if live is None and item is not None else now_ns
            yield from sensors.taken(heard_ns) if begun else sensors.begin(heard_ns)
            begun = True
        said += controls.taken(t_ns, now_ns)
        while said and (item is None or live is None or said[0].t_ns <= item.t_ns):
            yield said.pop(0)
        if looking is not None:
            for state in looking.told(now_ns):
                yield _not_before(state, t_ns)
        for one in beside:
            yield from one.told(max(t_ns, now_ns))
        if item is not None:
            t_ns = max(t_ns, item.t_ns)
            yield item
        elif live is not None and now_ns - max(t_ns, ticked_ns) >= TICK_NS:
            ticked_ns = now_ns
            yield Tick(max(t_ns, now_ns - TICK_NS))


@dataclass(slots=True)
class _Looking:
    """Looks at a live camera and at the clocks, and remembers what it saw. before: the clocks."""

    live: LiveClock
    before: Clocks
    camera: CameraWatchState = CameraWatchState()

    def told(self, now_ns: int) -> Iterator[SourceState]:
        """Look, and give what changed: a sleep or a step of the clock comes first."""
        clocks = self.live.clocks()
        jump = clock_watch.between(self.before, clocks)
        if jump.stepped_ns:
            yield clock_watch.step_told(now_ns, jump.stepped_ns)
        if jump.slept_ns:
            since_ns = now_ns - (clocks.running_ns - self.before.running_ns)
            self.camera, told = camera_watch.sleep(self.camera, now_ns, since_ns, jump.slept_ns)
            yield from told
        self.before = clocks
        self.camera, told = camera_watch.step(
            self.camera, now_ns, self.live.glimpse(), self.live.limits
        )
        yield from told


def _not_before(state: SourceState, t_ns: int) -> SourceState:
    """Return a condition that does not come before what was already consumed."""
    if state.t_ns >= t_ns:
        return state
    return SourceState(t_ns, state.source, state.condition, state.text)
