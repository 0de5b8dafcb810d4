"""The small interface behind which Bluetooth sensors and their recordings sit."""

from __future__ import annotations

from typing import Protocol

from posewatch.core.records import SourceState
from posewatch.core.sensor_records import Packet

#: What comes from sensors: raw packets, and what a sensor says of itself.
SensorEvent = Packet | SourceState


class SensorSource(Protocol):
    """Gives events in the order of their times, on the session clock; it never waits.

    One thread begins, takes and closes. Closing twice is harmless.
    """

    def begin(self, now_ns: int) -> list[SensorEvent]:
        """Start the session: return what is known of each sensor, as of now.

        Args:
            now_ns: the session's time at this moment.
        """
        ...

    def taken(self, now_ns: int) -> list[SensorEvent]:
        """Take everything that came since the last time, up to now_ns."""
        ...

    def close(self) -> None: ...
