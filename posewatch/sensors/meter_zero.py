"""A power meter's zero offset over its link: does what :mod:`core.meter_offset` decides."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

from posewatch.core import meter_offset
from posewatch.core.meter_offset import (
    OffsetAnswer,
    OffsetEvent,
    OffsetOutput,
    OffsetPlan,
    OffsetState,
    OffsetUnit,
    Send,
    ZeroAnswered,
    ZeroAsked,
)
from posewatch.core.records import SourceState
from posewatch.core.sensor_records import Characteristic, PowerFeature
from posewatch.core.sensor_source import SensorEvent
from posewatch.sensors import control_points, gatt
from posewatch.sensors.calls import CallFailed, RadioBlocked
from posewatch.sensors.gatt_fields import PacketProblem
from posewatch.sensors.sensor_link import SensorLink

_POINT = control_points.CYCLING_POWER_CONTROL_POINT
#: The bit of 2A65 that tells a meter of torque from one of force.
_OF_TORQUE = 16


@dataclass(frozen=True, slots=True)
class Zeroed:
    """What asking for an offset came to.

    answer: of the meter, None = it was not asked. said: for the operator, warnings included.
    """

    answer: OffsetAnswer | None
    said: tuple[str, ...]


class MeterZero:
    """Keeps the offset of one meter; made and used on the loop of its link.

    Args:
        put: takes the line for the log of each offset that was, or could not be, taken.
    """

    def __init__(
        self,
        link: SensorLink,
        now_ns: Callable[[], int],
        put: Callable[[SensorEvent], None],
        plan: OffsetPlan,
    ) -> None:
        self.state = OffsetState(link.name)
        self._link = link
        self._now_ns = now_ns
        self._put = put
        self._plan = plan

    def tell(self, event: OffsetEvent | None) -> tuple[str, ...]:
        """Tell what happened, None = time passed; return what is to be said."""
        return _texts(self._step(event))

    async def take(self, insisted: bool) -> Zeroed:
        """Take the offset, unless it is warned of, and wait for the answer."""
        self.state = replace(self.state, unit=self._unit())
        outputs = self._step(ZeroAsked(insisted))
        if not any(isinstance(one, Send) for one in outputs):
            return Zeroed(None, _texts(outputs))
        answer = OffsetAnswer(False, why="it was broken off")
        try:
            answer = await self._ask()
        finally:
            answered = self._step(ZeroAnswered(answer))
        lines = tuple(one.text for one in answered if isinstance(one, SourceState))
        return Zeroed(answer, _texts(outputs) + lines)

    def _step(self, event: OffsetEvent | None) -> tuple[OffsetOutput, ...]:
        now_ns = self._now_ns()
        if event is None:
            self.state, outputs = meter_offset.tick(self.state, now_ns, self._plan)
        else:
            self.state, outputs = meter_offset.step(self.state, now_ns, event, self._plan)
        for one in outputs:
            if isinstance(one, SourceState):
                self._put(one)
        return outputs

    def _unit(self) -> OffsetUnit:
        """Tell what its raw offset counts; torque where it does not say."""
        packet = self._link.status().last.get(Characteristic.CYCLING_POWER_FEATURE)
        if packet is None:
            return OffsetUnit.TORQUE
        try:
            feature = gatt.decode(packet.characteristic, packet.data)
        except PacketProblem:
            return OffsetUnit.TORQUE
        is_force = isinstance(feature, PowerFeature) and not feature.has(_OF_TORQUE)
        return OffsetUnit.FORCE if is_force else OffsetUnit.TORQUE

    async def _ask(self) -> OffsetAnswer:
        answered: asyncio.Future[OffsetAnswer] = asyncio.get_running_loop().create_future()

        def came(data: bytes) -> None:
            answer = control_points.decode_offset_answer(data)
            if answer is not None and not answered.done():
                answered.set_result(answer)

        try:
            if not await self._link.points.answers(_POINT, came):
                return OffsetAnswer(False, why="it cannot take its offset by radio")
            await self._link.points.write(_POINT, control_points.encode_start_offset())
            async with asyncio.timeout(self._plan.answer_s):
                return await answered
        except TimeoutError:
            return OffsetAnswer(False, why=f"it did not answer within {self._plan.answer_s:g} s")
        except (CallFailed, RadioBlocked) as error:
            return OffsetAnswer(False, why=str(error))


def _texts(outputs: Iterable[OffsetOutput]) -> tuple[str, ...]:
    return tuple(one.text for one in outputs if not isinstance(one, Send))
