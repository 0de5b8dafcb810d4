"""One sensor followed for as long as it is wanted: does what :mod:`core.sensor_link` decides."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable, Collection
from contextlib import suppress
from dataclasses import dataclass, field, replace

from posewatch.core import sensor_link
from posewatch.core.records import NS_PER_S, SourceCondition, SourceState
from posewatch.core.sensor_choice import MEASUREMENTS, SensorChoice, Service, Sighting
from posewatch.core.sensor_link import (
    Blocked,
    Came,
    Closed,
    Do,
    Ended,
    LinkEvent,
    LinkLimits,
    LinkState,
    Looked,
    Opened,
    Phase,
    Probed,
    Refused,
)
from posewatch.core.sensor_records import Characteristic, Packet
from posewatch.core.sensor_source import SensorEvent
from posewatch.core.sensor_streams import Stream, is_repeat
from posewatch.core.sensor_words import Told, describe, tell
from posewatch.sensors import facts
from posewatch.sensors.air import Air
from posewatch.sensors.calls import CallFailed, RadioBlocked
from posewatch.sensors.client import Connection
from posewatch.sensors.points import Control, ControlPoints

logger = logging.getLogger(__name__)

#: Listened to besides the measurements; may be silent for as long as it likes.
BESIDES = (Characteristic.CYCLING_POWER_VECTOR,)


@dataclass(frozen=True, slots=True)
class SensorStatus:
    """How one sensor stands, for windows; times on the monotonic clock.

    name: what it is called, as in its conditions. text: for the operator. next_ns: when it is
    looked for next, None = no pause is being waited for. services: what it offers, or announces
    while it was not connected yet. last: the newest packet of each characteristic, raw, with its
    time of arrival: old values are not to be shown as if they were of now. n_repeats: packets
    delivered twice and left out.
    """

    choice: SensorChoice
    name: str
    phase: Phase
    text: str
    since_ns: int
    next_ns: int | None
    rssi_dbm: int | None
    services: frozenset[Service]
    last: dict[str, Packet]
    n_packets: int
    n_repeats: int

    def known(self, t_ns: int) -> list[SensorEvent]:
        """Return what is known of the sensor as of t_ns: how it stands, and its facts."""
        known = [self.last[one] for one in facts.FACTS if one in self.last]
        condition = SourceCondition.LOST
        if self.phase is Phase.LIVE:
            condition = SourceCondition.RUNNING
        stands = SourceState(t_ns, self.name, condition, self.text)
        return [stands, *(replace(one, t_ns=t_ns) for one in known)]


@dataclass(frozen=True, slots=True)
class _Heard:
    """What has come from the sensor up to now; never altered, so that any thread may read it."""

    last: dict[str, Packet] = field(default_factory=dict)
    n_packets: int = 0
    n_repeats: int = 0


class SensorLink:
    """Follows one sensor on the loop that runs it.

    Args:
        name: what it is called for people and in conditions; no two sensors have one name.
        put: takes packets and conditions; must not wait.
        others: gives the platform ids of the other sensors that were chosen.
        now_ns: the monotonic clock.
    """

    def __init__(
        self,
        choice: SensorChoice,
        name: str,
        air: Air,
        limits: LinkLimits,
        now_ns: Callable[[], int],
        put: Callable[[SensorEvent], None],
        others: Callable[[], Collection[str]] = tuple,
    ) -> None:
        self.choice = choice
        self.name = name
        self._air = air
        self._limits = limits
        self._now_ns = now_ns
        self._put = put
        self._others = others
        self._state = sensor_link.begin(now_ns())
        self._told = Told()
        self._heard = _Heard()
        self._seen: Sighting | None = None
        self._services = choice.services
        self._connection: Connection | None = None
        #: Told before and when the link goes; None = nobody controls the sensor.
        self.control: Control | None = None
        self.points = ControlPoints()
        #: Set once it has given a first value and all facts that it will.
        self.introduced = asyncio.Event()
        self._facts_read = False
        #: Counts connections: what an old one still says is not heard.
        self._turn = 0
        self._stirred = asyncio.Event()

    def status(self) -> SensorStatus:
        """Return how the sensor stands; for any thread."""
        state, heard, seen = self._state, self._heard, self._seen
        waits = state.do is Do.LOOK and state.due_ns > self._now_ns()
        return SensorStatus(
            self.choice,
            self.name,
            state.phase,
            describe(state, self.name),
            state.since_ns,
            state.due_ns if waits else None,
            None if seen is None else seen.rssi_dbm,
            self._services,
            heard.last,
            heard.n_packets,
            heard.n_repeats,
        )

    async def follow(self) -> None:
        """Look for the sensor, connect, listen, and begin anew after each loss; until cancelled."""
        try:
            while True:
                now_ns = self._now_ns()
                self._set(sensor_link.tick(self._state, now_ns, self._limits), now_ns)
                wait_s = (self._state.due_ns - self._now_ns()) / NS_PER_S
                if wait_s <= 0 and self._state.do is not Do.STAY:
                    await self._act(self._state.do)
                    continue
                self._stirred.clear()
                # Not wait_for: Python 3.11's loses a cancellation that comes with the event.
                with suppress(TimeoutError):
                    async with asyncio.timeout(max(wait_s, 0.001)):
                        await self._stirred.wait()
        finally:
            await self._close()

    async def _act(self, do: Do) -> None:
        """Do one thing and tell the state what came of it."""
        try:
            if do is Do.LOOK:
                seen = await self._air.find(self.choice, self._others())
                if seen is not None:
                    self._seen = seen
                    self.choice = replace(self.choice, platform_id=seen.platform_id)
                self._step(Looked(seen is not None))
            elif do is Do.OPEN:
                await self._open()
            elif do is Do.PROBE:
                self._step(Probed(await self._answers()))
            elif do is Do.CLOSE:
                await self._close()
                self._step(Closed())
        except RadioBlocked as error:
            logger.info("%s: %s", self.name, error)
            self._step(Blocked(error.phase))
        except CallFailed as error:
            logger.info("%s: %s failed: %s", self.name, do, error)
            self._failed(do)
        except Exception:
            # A Bluetooth stack raises what it likes; the other sensors and the next try go on.
            logger.exception("%s: %s failed.", self.name, do)
            self._failed(do)

    def _failed(self, do: Do) -> None:
        self._step(Looked(False) if do is Do.LOOK else Refused())

    async def _open(self) -> None:
        assert self._seen is not None
        self._turn += 1
        turn = self._turn
        connection = await self._air.open(self._seen.platform_id, lambda: self._ended(turn))
        self._connection = connection
        self.points.opened(connection)
        self._services = connection.services()
        asked = [str(one) for one in MEASUREMENTS if await self._listen(connection, one, turn)]
        for one in BESIDES:
            await self._listen(connection, one, turn)
        self._step(Opened(tuple(asked)))
        async for fact, data in facts.read_facts(connection, self.name):
            self._keep(fact, data, self._now_ns())
        self._facts_read = True
        if self._state.phase is Phase.LIVE:
            self.introduced.set()

    async def _listen(self, connection: Connection, one: Characteristic, turn: int) -> bool:
        return await connection.listen(one, lambda data: self._came(turn, one, data))

    async def _answers(self) -> bool:
        """Ask a silent sensor for something; one that has no facts cannot be asked, and passes."""
        assert self._connection is not None
        try:
            fact = await facts.ask(self._connection)
        except CallFailed:
            return False
        if fact is not None:
            self._keep(*fact, self._now_ns())
        return True

    async def drop(self) -> None:
        """End the link now; the sensor is looked for and connected anew."""
        if self._connection is not None:
            turn = self._turn
            await self._connection.close()
            self._ended(turn)

    async def _close(self) -> None:
        try:
            if self.control is not None and self._connection is not None:
                await self.control.parting()
        finally:
            connection, self._connection = self._connection, None
            self._turn += 1
            self.points.closed()
            if connection is not None:
                await connection.close()
            if self.control is not None:
                self.control.lost()

    def _came(self, turn: int, characteristic: Characteristic, data: bytes) -> None:
        """Take a value in; called by the stack, so it only enqueues."""
        if turn != self._turn:
            return
        t_ns = self._now_ns()
        last = self._heard.last.get(characteristic)
        if last is not None:
            before = Stream(characteristic, last.t_ns, last.t_ns, last.data)
            if is_repeat(before, t_ns, data):
                self._heard = replace(self._heard, n_repeats=self._heard.n_repeats + 1)
                return
        self._step(Came(characteristic, data), t_ns)
        self._keep(characteristic, data, t_ns)

    def _keep(self, characteristic: Characteristic, data: bytes, t_ns: int) -> None:
        assert self._seen is not None
        packet = Packet(t_ns, self._seen.platform_id, str(characteristic), data)
        last = {**self._heard.last, packet.characteristic: packet}
        self._heard = replace(self._heard, last=last, n_packets=self._heard.n_packets + 1)
        self._put(packet)

    def _ended(self, turn: int) -> None:
        if turn == self._turn:
            if self.control is not None:
                self.control.lost()
            self._step(Ended())

    def _step(self, event: LinkEvent, t_ns: int | None = None) -> None:
        """Tell the state what happened, now unless another time is given."""
        at_ns = self._now_ns() if t_ns is None else t_ns
        self._set(sensor_link.step(self._state, at_ns, event, self._limits), at_ns)

    def _set(self, state: LinkState, t_ns: int) -> None:
        """Take a new state, say what is new, and let :meth:`follow` look at it."""
        if state is self._state:
            return
        if state.phase is not self._state.phase:
            logger.info("%s: %s", self.name, describe(state, self.name))
        self._state = state
        self._told, events = tell(self._told, state, self.name, t_ns)
        for event in events:
            self._put(event)
        if self._facts_read and state.phase is Phase.LIVE:
            self.introduced.set()
        self._stirred.set()
