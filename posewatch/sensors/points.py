"""What a sensor is asked and told besides its measurements, while it is connected."""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

from posewatch.sensors.calls import CallFailed
from posewatch.sensors.client import Connection


class Control(Protocol):
    """Somebody who controls the sensor, and is told when its link goes."""

    async def parting(self) -> None:
        """Let the sensor be as it was: its link is about to be closed, if it still works."""
        ...

    def lost(self) -> None:
        """Know that the link is gone."""
        ...


class ControlPoints:
    """The control points of one sensor; each connection begins anew."""

    def __init__(self) -> None:
        self._connection: Connection | None = None
        self._came: dict[str, Callable[[bytes], None]] = {}

    def opened(self, connection: Connection) -> None:
        """The sensor is connected."""
        self._connection, self._came = connection, {}

    def closed(self) -> None:
        """The connection is over; what it still says is not heard."""
        self._connection, self._came = None, {}

    async def read(self, characteristic: str) -> bytes | None:
        """Read a characteristic of the sensor now; None = it has none that can be read.

        Raises:
            RadioBlocked, CallFailed: it is not connected, or did not answer.
        """
        return await self._connected().read(characteristic, probe=True)

    async def answers(self, characteristic: str, came: Callable[[bytes], None]) -> bool:
        """Let came have what comes of a control point from now on; False = there is none.

        Raises:
            RadioBlocked, CallFailed: it is not connected, or could not be asked.
        """
        connection, heard_by = self._connected(), self._came
        asked = characteristic in heard_by
        heard_by[characteristic] = came
        if asked:
            return True

        def answered(data: bytes) -> None:
            if connection is self._connection:
                heard_by[characteristic](data)

        try:
            found = await connection.listen(characteristic, answered)
        except BaseException:
            heard_by.pop(characteristic, None)
            raise
        if not found:
            heard_by.pop(characteristic, None)
        return found

    async def write(self, characteristic: str, data: bytes) -> None:
        """Write to a control point.

        Raises:
            RadioBlocked, CallFailed: it is not connected, refused, or did not answer.
        """
        await self._connected().write(characteristic, data)

    def _connected(self) -> Connection:
        if self._connection is None:
            raise CallFailed("the sensor is not connected")
        return self._connection
