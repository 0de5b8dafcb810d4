"""What a sensor says when asked: read after connecting, and to see whether it answers."""

from __future__ import annotations

import logging
from collections.abc import AsyncIterator

from posewatch.core.sensor_records import Characteristic
from posewatch.sensors.calls import CallFailed
from posewatch.sensors.client import Connection

logger = logging.getLogger(__name__)

#: Read once each time a sensor was connected; what they say is logged like any packet.
FACTS = (
    Characteristic.CYCLING_POWER_FEATURE,
    Characteristic.SENSOR_LOCATION,
    Characteristic.BATTERY_LEVEL,
)


async def read_facts(
    connection: Connection, name: str
) -> AsyncIterator[tuple[Characteristic, bytes]]:
    """Give what does not change; a sensor that will not say it is used all the same.

    name: of the sensor, for the log.
    """
    for one in FACTS:
        try:
            data = await connection.read(one, probe=True)
        except CallFailed as error:
            logger.info("%s: %s cannot be read: %s", name, one, error)
            return
        if data is not None:
            yield one, data


async def ask(connection: Connection) -> tuple[Characteristic, bytes] | None:
    """Ask a silent sensor for its battery, or else for another fact; None = it has none.

    Raises:
        RadioBlocked, CallFailed: it does not answer.
    """
    for one in reversed(FACTS):
        data = await connection.read(one, probe=True)
        if data is not None:
            return one, data
    return None
