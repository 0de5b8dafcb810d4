"""Live Bluetooth sensors for threads that may not wait: commands in, packets and conditions out."""

from __future__ import annotations

import concurrent.futures
from collections import deque
from collections.abc import Callable, Iterable
from dataclasses import replace

from posewatch.core.meter_offset import OffsetEvent
from posewatch.core.sensor_choice import SensorChoice, Sighting
from posewatch.core.sensor_source import SensorEvent
from posewatch.core.trainer_state import ControlState
from posewatch.runtime import clock
from posewatch.runtime.loop_thread import LoopThread
from posewatch.sensors.client import Backend
from posewatch.sensors.meter_zero import Zeroed
from posewatch.sensors.roster import Roster, RosterLimits, Survey, Tried
from posewatch.sensors.sensor_link import SensorStatus

#: The thread that owns all sensors.
THREAD = "sensors"
#: Before a session begins, nobody may take what comes: so much is kept, the newest.
KEPT = 10_000


class LiveSensors:
    """A ``SensorSource`` of the sensors that are chosen; all calls return at once.

    Everything about Bluetooth happens on the thread ``sensors``, which imports no windows (on
    Windows, a thread that shows windows hears no sensor).

    Args:
        choices: to be followed from now on.
        backend: for tests; None = this computer's Bluetooth.
    """

    def __init__(
        self,
        choices: Iterable[SensorChoice] = (),
        backend: Backend | None = None,
        limits: RosterLimits | None = None,
    ) -> None:
        self._events: deque[SensorEvent] = deque(maxlen=KEPT)
        self._zero_ns: int | None = None
        self._thread = LoopThread(THREAD)
        made = _made(self._events.append, backend, limits)
        self._roster = self._thread.ask(made).result()
        for choice in choices:
            self.use(choice)

    def use(self, choice: SensorChoice) -> None:
        """Follow a sensor from now on."""
        self._thread.ask(self._roster.use(choice))

    def forget(self, choice: SensorChoice) -> None:
        """Let go of a sensor."""
        self._thread.ask(self._roster.forget(choice))

    def survey(
        self, seconds: float, saw: Callable[[Sighting], None] = lambda _: None
    ) -> concurrent.futures.Future[Survey]:
        """Scan for sensors; saw is called on the thread ``sensors`` with each sighting."""
        return self._thread.ask(self._roster.survey(seconds, saw))

    def try_out(self, choice: SensorChoice, seconds: float) -> concurrent.futures.Future[Tried]:
        """Read a sensor's battery and first values before it is chosen."""
        return self._thread.ask(self._roster.try_out(choice, seconds))

    def statuses(self) -> tuple[SensorStatus, ...]:
        """Return how the sensors stand now; times are on the monotonic clock."""
        return self._roster.statuses()

    def hold_power(
        self,
        choice: SensorChoice,
        watts: int,
        confirmed: bool = False,
        cadence_rpm: float | None = None,
    ) -> concurrent.futures.Future[ControlState]:
        """Let a trainer in use hold a power.

        It is released on any fault, when the cadence sinks far below cadence_rpm (the planned one,
        None = none is), and when this is closed. A raise that needs to be confirmed comes back as
        ``unconfirmed_w``: tell the rider, then call again with confirmed. The future fails with
        CallFailed or RadioBlocked where the trainer gives no values or cannot be controlled.
        """
        return self._thread.ask(self._roster.hold_power(choice, watts, confirmed, cadence_rpm))

    def release(self, choice: SensorChoice) -> concurrent.futures.Future[ControlState]:
        """Let a trainer go; one that is not held is no error."""
        return self._thread.ask(self._roster.release(choice))

    def hold_state(self, choice: SensorChoice) -> ControlState:
        """Return how a trainer is held now."""
        return self._roster.hold_state(choice)

    def zero_offset(
        self, choice: SensorChoice, insisted: bool = False
    ) -> concurrent.futures.Future[Zeroed]:
        """Take the zero offset of a power meter in use; insisted: although it was warned of.

        The future fails with CallFailed where the meter gives no values.
        """
        return self._thread.ask(self._roster.zero_offset(choice, insisted))

    def tell_meter(
        self, choice: SensorChoice, event: OffsetEvent | None
    ) -> concurrent.futures.Future[tuple[str, ...]]:
        """Tell what matters to a meter's offset (None = time passed); gives what to say of it."""
        return self._thread.ask(self._roster.tell_meter(choice, event))

    def begin(self, now_ns: int) -> list[SensorEvent]:
        """Start the session's clock: what came before is gone, but what is known is told again."""
        self._zero_ns = clock.monotonic_ns() - now_ns
        self._events.clear()
        known: list[SensorEvent] = []
        for status in self.statuses():
            known += status.known(now_ns)
        return known + self._roster.known_holds(now_ns)

    def taken(self, now_ns: int) -> list[SensorEvent]:
        """Take what came up to now_ns, on the session's clock."""
        if self._zero_ns is None:
            raise RuntimeError("The session has not begun.")
        taken: list[SensorEvent] = []
        while self._events and self._events[0].t_ns - self._zero_ns <= now_ns:
            event = self._events.popleft()
            taken.append(replace(event, t_ns=event.t_ns - self._zero_ns))
        return taken

    def close(self) -> None:
        """Let go of all sensors and end the thread, within two seconds; twice is harmless.

        A trainer that is held is let go before its link is closed.
        """
        self._thread.close(self._roster.close)


async def _made(
    put: Callable[[SensorEvent], None], backend: Backend | None, limits: RosterLimits | None
) -> Roster:
    return Roster(clock.monotonic_ns, put, backend, limits)
