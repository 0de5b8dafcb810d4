"""A trainer that holds the power: does what :mod:`core.trainer_control` decides, on its link."""

from __future__ import annotations

import asyncio
import logging
import math
from collections.abc import Callable
from contextlib import suppress

from posewatch.core import trainer_control
from posewatch.core.records import NS_PER_S, SourceCondition, SourceState
from posewatch.core.sensor_records import Packet
from posewatch.core.sensor_source import SensorEvent
from posewatch.core.trainer_records import HOLD_OF, Command, Order
from posewatch.core.trainer_state import (
    Asked,
    Confirmed,
    ControlEvent,
    ControlLimits,
    ControlState,
    Lost,
    Ranged,
    Released,
    Stage,
    Turned,
    Unsent,
)
from posewatch.sensors import control_points
from posewatch.sensors.calls import CallFailed, RadioBlocked
from posewatch.sensors.device_reader import DeviceReader
from posewatch.sensors.gatt_fields import PacketProblem
from posewatch.sensors.sensor_link import SensorLink

logger = logging.getLogger(__name__)

#: When the link is about to be closed, letting go may take so long in all.
PARTING_S = 1.2


class TrainerHold:
    """Holds the power of one trainer; made and used on the loop of its link.

    Attributes:
        state: how the trainer stands; for any thread.

    Args:
        put: takes a condition whenever the hold begins, ends or fails; its source is HOLD_OF and
            the trainer's name.
    """

    def __init__(
        self,
        link: SensorLink,
        now_ns: Callable[[], int],
        put: Callable[[SensorEvent], None],
        limits: ControlLimits,
    ) -> None:
        self.state: ControlState = trainer_control.OFF
        self._link = link
        self._now_ns = now_ns
        self._put = put
        self._limits = limits
        self._readers: dict[str, DeviceReader] = {}
        self._events: list[ControlEvent] = []
        self._stirred = asyncio.Event()
        self._idle = asyncio.Event()
        self._idle.set()
        self._work = asyncio.create_task(self._go_on(), name=f"hold the power of {link.name}")
        self._work.add_done_callback(self._ended)
        link.control = self

    async def hold(self, watts: int, confirmed: bool, cadence_rpm: float | None) -> ControlState:
        """Ask for a power, or confirm the raise to it that was asked for; wait for what came of it.

        cadence_rpm: planned with the power that is asked for, None = none is.

        Raises:
            RadioBlocked, CallFailed: the trainer is not connected or cannot be controlled.
        """
        await self._open()
        self._tell(Confirmed(watts) if confirmed else Asked(watts, cadence_rpm))
        return await self._settled()

    def heard(self, packet: Packet) -> None:
        """Take in what any sensor on the bike sent: the cadence is watched.

        That of the trainer itself, or where it tells none, of whichever sensor does.
        """
        reader = self._readers.setdefault(packet.device, DeviceReader(packet.device))
        try:
            _, reading = reader.read(packet)
        except PacketProblem:
            return  # told elsewhere
        own = self._readers.get(self._link.choice.platform_id, reader)
        if reading is None or (own is not reader and own.effort.cadence_kind is not None):
            return
        if not math.isnan(reading.cadence_rpm):
            self._tell(Turned(reading.cadence_rpm))

    def known(self, t_ns: int) -> list[SensorEvent]:
        """Return what is known of the hold as of t_ns: that it stands, or nothing."""
        if self.state.stage is not Stage.HOLDING:
            return []
        return [self._condition(t_ns, SourceCondition.RUNNING, self.state.text)]

    async def release(self, hurried: bool = False) -> ControlState:
        """Let the trainer go and wait until that is done; one that is not held is no error."""
        self._tell(Released(hurried))
        return await self._settled()

    async def parting(self) -> None:
        """Let go in a hurry: the link is about to be closed."""
        if self.state.stage is Stage.OFF and not self._events:
            return
        with suppress(TimeoutError):
            async with asyncio.timeout(PARTING_S):
                await self.release(hurried=True)

    def lost(self) -> None:
        """The link is gone."""
        self._tell(Lost())

    def close(self) -> None:
        """End; the link is closed already."""
        self._work.cancel()

    async def _open(self) -> None:
        """Listen to the answers; a no-op where that is done in this connection."""
        points = self._link.points
        if not await points.answers(control_points.FITNESS_MACHINE_CONTROL_POINT, self._answered):
            raise CallFailed("it has no control point of a fitness machine")
        await points.answers(control_points.FITNESS_MACHINE_STATUS, self._status_came)
        if self.state.range is None:
            data = await points.read(control_points.SUPPORTED_POWER_RANGE)
            power = None if data is None else control_points.decode_power_range(data)
            if power is not None:
                self._tell(Ranged(power))

    def _answered(self, data: bytes) -> None:
        answer = control_points.decode_answer(data)
        if answer is not None:
            self._tell(answer)

    def _status_came(self, data: bytes) -> None:
        event = control_points.decode_status(data)
        if event is not None:
            self._tell(event)

    def _tell(self, event: ControlEvent) -> None:
        self._events.append(event)
        self._idle.clear()
        self._stirred.set()

    async def _settled(self) -> ControlState:
        await self._idle.wait()
        return self.state

    def _ended(self, work: asyncio.Task[None]) -> None:
        """Let nobody wait for a task that has ended."""
        if not work.cancelled() and (error := work.exception()) is not None:
            logger.error("A trainer is no longer controlled.", exc_info=error)
        self._idle.set()

    async def _go_on(self) -> None:
        while True:
            commands = self._decide()
            for command in commands:
                await self._send(command)
            if commands or self._events:
                continue
            if self.state.settled:
                self._idle.set()
            self._stirred.clear()
            next_ns = trainer_control.next_ns(self.state, self._limits)
            wait_s = None if next_ns is None else max((next_ns - self._now_ns()) / NS_PER_S, 0.001)
            with suppress(TimeoutError):
                async with asyncio.timeout(wait_s):
                    await self._stirred.wait()

    def _decide(self) -> tuple[Command, ...]:
        """Take in the next event and the time; return what is to be sent."""
        now_ns = self._now_ns()
        if self._events:
            event = self._events.pop(0)
            state, commands = trainer_control.step(self.state, now_ns, event, self._limits)
        else:
            state, commands = trainer_control.tick(self.state, now_ns, self._limits)
        self._set(state, now_ns)
        return commands

    async def _send(self, command: Command) -> None:
        try:
            if command.order is Order.END_LINK:
                await self._link.drop()
                return
            data = control_points.encode_order(command)
            await self._link.points.write(control_points.FITNESS_MACHINE_CONTROL_POINT, data)
        except (CallFailed, RadioBlocked) as error:
            logger.info("%s: %s was not sent: %s", self._link.name, command, error)
            self._tell(Unsent(command.order, str(error)))
        except Exception as error:
            # Whatever a Bluetooth stack raises, the trainer is let go.
            logger.exception("%s: %s was not sent.", self._link.name, command)
            self._tell(Unsent(command.order, repr(error)))

    def _set(self, state: ControlState, t_ns: int) -> None:
        before, self.state = self.state, state
        if state.text != before.text:
            logger.info("%s: %s", self._link.name, state.text)
        condition = None
        if state.fault and not before.fault:
            condition = SourceCondition.LOST
        elif state.stage is Stage.HOLDING and before.stage is not Stage.HOLDING:
            condition = SourceCondition.RUNNING
        elif state.stage is Stage.OFF and before.stage is not Stage.OFF:
            condition = SourceCondition.LOST if state.fault else SourceCondition.ENDED
        if condition is not None:
            self._put(self._condition(t_ns, condition, state.text))

    def _condition(self, t_ns: int, condition: SourceCondition, text: str) -> SourceState:
        return SourceState(t_ns, f"{HOLD_OF}{self._link.name}", condition, text)
