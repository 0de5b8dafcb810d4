"""Listening to sensors on the screen: one line a second, and what they say of themselves."""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterable
from contextlib import closing, nullcontext
from datetime import UTC, datetime
from pathlib import Path

from posewatch.cli.screen import say
from posewatch.core.records import NS_PER_S, SourceCondition
from posewatch.core.sensor_choice import SensorChoice
from posewatch.core.sensor_records import Packet
from posewatch.core.sensor_source import SensorEvent, SensorSource
from posewatch.core.timebase import clock_text, to_ns
from posewatch.runtime import clock
from posewatch.sensing import LiveSensors
from posewatch.sensors.replayed import ReplayedSensors
from posewatch.sensors.sensor_link import SensorStatus
from posewatch.sensors.values import SensorValues
from posewatch.store.packet_file import PacketWriter

#: How often packets are fetched, and values said.
FETCH_NS = NS_PER_S // 10
SAY_NS = NS_PER_S


class Listener:
    """Puts what comes into words.

    Attributes:
        n_packets: how many came.
    """

    def __init__(self, choices: Iterable[SensorChoice]) -> None:
        self._names = {one.platform_id: one.name for one in choices}
        self._values: dict[str, SensorValues] = {}
        self.n_packets = 0

    def called(self, statuses: Iterable[SensorStatus]) -> None:
        """Learn the names of sensors that were found meanwhile."""
        self._names.update({one.choice.platform_id: one.name for one in statuses})

    def take(self, event: SensorEvent) -> str | None:
        """Take in an event; return the line to be said of it at once, None = none."""
        if isinstance(event, Packet):
            self.n_packets += 1
            self._values_of(event.device).take(event)
            return None
        if event.condition is SourceCondition.RUNNING:
            for device, name in self._names.items():
                if name == event.source:
                    self._values_of(device).connected_anew()
        return f"{clock_text(event.t_ns)}  {event.text}"

    def lines(self, now_ns: int) -> list[str]:
        """Return a line for each sensor that has given values."""
        lines = []
        for device, values in self._values.items():
            words = values.words(now_ns)
            if words:
                name = self._names.get(device, device)
                lines.append(f"{clock_text(now_ns)}  {name}: {', '.join(words)}")
        return lines

    def closing_lines(self) -> list[str]:
        """Return what is to be said at the end of each sensor."""
        lines = []
        for device, values in self._values.items():
            words = [f"{values.n_packets} packets", *values.facts()]
            if values.n_bad:
                words.append(f"{values.n_bad} could not be read, the last: {values.problem}")
            lines.append(f"{self._names.get(device, device)}: {'; '.join(words)}")
        return lines

    def _values_of(self, device: str) -> SensorValues:
        return self._values.setdefault(device, SensorValues(device))


def listen_to(
    source: SensorSource,
    choices: tuple[SensorChoice, ...],
    record: Path | None,
    seconds: float | None,
) -> None:
    """Print what comes until seconds are over, a recording ends, or Ctrl-C.

    Raises:
        BadInput: the recording exists, or cannot be written.
    """
    end_ns = None if seconds is None else to_ns(seconds)
    if isinstance(source, ReplayedSensors):
        end_ns = source.end_ns if end_ns is None else min(end_ns, source.end_ns)
    stop = threading.Event()
    before = signal.signal(signal.SIGINT, lambda *_: stop.set())
    listener = Listener(choices)
    begun = datetime.now(UTC).isoformat()
    try:
        with (
            nullcontext()
            if record is None
            else closing(PacketWriter(record, begun, choices)) as writer
        ):
            _listen(source, listener, writer, end_ns, stop)
    finally:
        signal.signal(signal.SIGINT, before)
    for line in listener.closing_lines():
        say(line)
    say(f"{listener.n_packets} packets" + (f", recorded in {record}" if record else ""))


def _listen(
    source: SensorSource,
    listener: Listener,
    writer: PacketWriter | None,
    end_ns: int | None,
    stop: threading.Event,
) -> None:
    zero_ns = clock.monotonic_ns()
    said_ns = now_ns = 0
    events = source.begin(0)
    while True:
        if isinstance(source, LiveSensors):
            listener.called(source.statuses())
        for event in events:
            if writer is not None:
                writer.write(event)
            line = listener.take(event)
            if line is not None:
                say(line)
        if now_ns - said_ns >= SAY_NS:
            said_ns += SAY_NS
            for line in listener.lines(now_ns):
                say(line)
        if stop.is_set() or (end_ns is not None and now_ns >= end_ns):
            return
        clock.wait_until(zero_ns + now_ns + FETCH_NS, stop)
        now_ns = clock.monotonic_ns() - zero_ns
        events = source.taken(now_ns)
