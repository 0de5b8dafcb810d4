"""Raw packets of sensors as a file: JSON lines, so that a kill loses at most the last one.

The first line says what the file is and which sensors it is of; each further line is one packet, or
how a sensor stands from then on::

    {"format": "posewatch sensor packets", "format_version": 1, "begun": "2025-...+00:00",
     "sensors": [{"name": "Crank", "platform_id": "F1:..."}]}
    {"t_ns": 1250000000, "device": "F1:...", "characteristic": "2A63", "data": "20000b00..."}
    {"t_ns": 4300000000, "source": "Crank", "condition": "lost", "text": "Crank is ..."}

t_ns: of arrival, from the beginning of the recording. data: hexadecimal. condition: running, lost.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Final, Literal

from pydantic import Field, ValidationError

from posewatch.core.records import SourceCondition, SourceState
from posewatch.core.sensor_choice import SensorChoice
from posewatch.core.sensor_records import Packet
from posewatch.core.sensor_source import SensorEvent
from posewatch.errors import BadInput
from posewatch.store.validated import Count, FileKind, Moment, Part, first_problem

FORMAT: Final = "posewatch sensor packets"
FORMAT_VERSION: Final = 1
KIND = FileKind(
    "sensor packet", FORMAT, FORMAT_VERSION, "sensors listen --record", "Record it again."
)
#: A notification holds no more (ATT, Bluetooth Core Specification: a value has 512 bytes at most).
MOST_BYTES = 512


class _Sensor(Part):
    name: str
    platform_id: str


class _Header(Part):
    format: Literal["posewatch sensor packets"] = FORMAT
    format_version: Literal[1] = FORMAT_VERSION
    begun: Moment
    sensors: tuple[_Sensor, ...]


class _PacketLine(Part):
    t_ns: Count
    device: str
    characteristic: Annotated[str, Field(pattern="^[0-9A-F]{4}$")]
    data: Annotated[str, Field(pattern="^([0-9a-f]{2})*$", max_length=2 * MOST_BYTES)]

    def event(self) -> SensorEvent:
        data = bytes.fromhex(self.data)
        return Packet(self.t_ns, self.device, self.characteristic, data)


class _StateLine(Part):
    t_ns: Count
    source: str
    condition: Literal["running", "lost"]
    text: str

    def event(self) -> SensorEvent:
        return SourceState(self.t_ns, self.source, SourceCondition(self.condition), self.text)


@dataclass(frozen=True, slots=True)
class PacketRecording:
    """What a file holds. torn: its last line was cut off by a kill or a full disk, and left out."""

    begun: str
    sensors: tuple[SensorChoice, ...]
    events: tuple[SensorEvent, ...]
    torn: bool


class PacketWriter:
    """Writes packets to a new file, each as one whole line at once; of one thread.

    Args:
        begun: wall time of t_ns = 0, ISO 8601 with its zone.

    Raises:
        BadInput: the file exists already, or cannot be written.
    """

    def __init__(self, path: Path, begun: str, sensors: Iterable[SensorChoice]) -> None:
        self.path = path
        header = _Header(
            begun=begun,
            sensors=tuple(_Sensor(name=one.name, platform_id=one.platform_id) for one in sensors),
        )
        try:
            self._file = os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY | _BINARY, 0o644)
        except FileExistsError as error:
            raise BadInput(
                f"{path} exists already and was left as it is.", "Give another name, or remove it."
            ) from error
        except OSError as error:
            raise BadInput(
                f"{path} cannot be written ({error.strerror or error}).",
                "Name a file in an existing folder that can be written to.",
            ) from error
        try:
            self._write(header)
        except BaseException:
            self.close()
            path.unlink(missing_ok=True)
            raise

    def write(self, event: SensorEvent) -> None:
        """Add an event; t_ns from the beginning of the recording.

        Raises:
            BadInput: the disk is full or gone; what was written before stays good.
        """
        line: _PacketLine | _StateLine
        if isinstance(event, Packet):
            line = _PacketLine(
                t_ns=event.t_ns,
                device=event.device,
                characteristic=event.characteristic,
                data=event.data.hex(),
            )
        else:
            line = _StateLine.model_validate(
                {
                    "t_ns": event.t_ns,
                    "source": event.source,
                    "condition": str(event.condition),
                    "text": event.text,
                }
            )
        self._write(line)

    def close(self) -> None:
        """Close the file; twice is harmless."""
        if self._file >= 0:
            os.close(self._file)
            self._file = -1

    def _write(self, part: Part) -> None:
        # ASCII only, so that a line that was cut off is text all the same.
        line = json.dumps(part.model_dump()).encode() + b"\n"
        try:
            n = os.write(self._file, line)
            if n < len(line):
                os.write(self._file, line[n:])
        except OSError as error:
            raise BadInput(
                f"{self.path} cannot be written any more ({error.strerror or error}).",
                "Free some disk, or record to another drive; what was recorded before is kept.",
            ) from error


_BINARY = getattr(os, "O_BINARY", 0)


def read_packets(path: Path) -> PacketRecording:
    """Read a recording.

    Raises:
        BadInput: not there, not of this kind, or a line in it is damaged; the line is named.
    """
    text = KIND.read(path)
    head, *lines = text.split("\n")
    KIND.require(head, str(path))
    last = lines.pop() if lines else head
    torn = last != ""
    try:
        header = _Header.model_validate_json(head)
    except ValidationError as error:
        raise BadInput(f"{path}, line 1: {first_problem(error)}.", KIND.again) from error
    events: list[SensorEvent] = []
    for number, line in enumerate(lines, start=2):
        event = _event(path, number, line)
        if events and event.t_ns < events[-1].t_ns:
            raise BadInput(
                f"{path}, line {number}: its time is before that of the line above.", KIND.again
            )
        events.append(event)
    sensors = tuple(SensorChoice(one.name, one.platform_id) for one in header.sensors)
    return PacketRecording(header.begun, sensors, tuple(events), torn)


def _event(path: Path, number: int, line: str) -> SensorEvent:
    kind = _StateLine if '"condition":' in line else _PacketLine
    try:
        return kind.model_validate_json(line).event()
    except ValidationError as error:
        raise BadInput(f"{path}, line {number}: {first_problem(error)}.", KIND.again) from error


def is_packet_file(path: Path) -> bool:
    """Whether a file says in its first line that it is of this kind."""
    try:
        with path.open("rb") as file:
            head = json.loads(file.readline(65536))
    except (OSError, ValueError, RecursionError):
        return False
    return isinstance(head, dict) and head.get("format") == FORMAT
