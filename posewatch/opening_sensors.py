"""Opens the sensors of a watch: live ones over Bluetooth, or a recording of their packets."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import closing, contextmanager
from typing import TYPE_CHECKING

from posewatch.core.sensor_use import SensorUse
from posewatch.sensors.effort_feed import EffortFeed

if TYPE_CHECKING:
    from posewatch.sensing import LiveSensors


@contextmanager
def open_sensors(use: SensorUse) -> Iterator[EffortFeed | None]:
    """Open the sensors that are to be used, and close them at the end; None = there are none.

    Raises:
        BadInput: the recording cannot be used, or has no sensor of that name.
    """
    if not use.is_any:
        yield None
        return
    feed = _live(use) if use.recording is None else _recorded(use)
    with closing(feed):
        yield feed


def feed_of(sensors: LiveSensors, use: SensorUse) -> EffortFeed:
    """Return what a watch takes of live sensors."""

    def names() -> Mapping[str, str]:
        known: dict[str, str] = {}
        for status in sensors.statuses():
            chosen = status.choice
            for packet in status.last.values():
                # Also by the chosen id: met by its name, a sensor may go by another kind of id.
                words = filter(None, (status.name, chosen.name, chosen.platform_id))
                known |= dict.fromkeys(words, packet.device)
        return known

    return EffortFeed(sensors, use, names)


def _live(use: SensorUse) -> EffortFeed:
    from posewatch.sensing import LiveSensors

    return feed_of(LiveSensors(use.choices), use)


def _recorded(use: SensorUse) -> EffortFeed:
    from posewatch.errors import BadInput
    from posewatch.sensors.replayed import ReplayedSensors
    from posewatch.store.packet_file import read_packets

    assert use.recording is not None
    recording = read_packets(use.recording)
    names = {one.name: one.platform_id for one in recording.sensors}
    for choice in use.choices:
        if not {choice.name, choice.platform_id} & {*names, *names.values()}:
            there = ", ".join(names) or "none"
            raise BadInput(
                f"{use.recording} has no sensor called {choice.name}.",
                f"Its sensors are: {there}.",
            )
    return EffortFeed(ReplayedSensors(recording.events), use, lambda: names)
