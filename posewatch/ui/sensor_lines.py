"""How the sensors of a watch stand, for all windows: live ones, or recorded ones. Without Qt."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from pathlib import Path

from posewatch.core.records import NS_PER_S, SourceCondition, SourceState
from posewatch.core.sensor_choice import MEASUREMENTS, SensorChoice
from posewatch.core.sensor_link import OBSTACLES, Phase
from posewatch.core.sensor_records import Packet
from posewatch.errors import BadInput
from posewatch.runtime.engine import Said
from posewatch.sensors.sensor_link import SensorStatus
from posewatch.sensors.values import values_of
from posewatch.store.packet_file import read_packets
from posewatch.studio import Chosen
from posewatch.ui.scene import SensorLine

#: Where the phase says more than the beginning of what the link says.
PHASE_WORDS = {
    Phase.SEARCHING: "is searched for",
    Phase.CONNECTING: "is being connected",
    Phase.TAKEN: "is taken by another program or display",
    **{phase: str(phase) for phase in OBSTACLES},
}
#: Says nothing that people could do something about.
NO_PLACE = " (place not told)"
#: Ends the first thing that a link says of its sensor.
FIRST_END = re.compile(r"[.:;](\s|$)|, or | \(")


def of_live(
    statuses: Iterable[SensorStatus], chosen: Chosen, now_ns: int
) -> tuple[SensorLine, ...]:
    """Return how live sensors stand. now_ns: monotonic clock."""
    found = []
    for one in statuses:
        state = ""
        if one.phase is not Phase.LIVE:
            state = PHASE_WORDS.get(one.phase) or first(one.text, one.name)
        found.append(_line(one.name, one.text, state, one.choice, one.last, chosen, now_ns))
    return tuple(found)


class RecordedSensors:
    """Sensors whose recording is played to a watch: known by what the watch says of them."""

    def __init__(self, recording: Path) -> None:
        try:
            self._choices = read_packets(recording).sensors
        except BadInput:  # the watch tells it
            self._choices = ()
        self._last: dict[str, dict[str, Packet]] = {}
        self._texts: dict[str, tuple[str, bool]] = {}

    def hear(self, said: Iterable[Said]) -> None:
        """Take in what was said since the last time."""
        for item in (one.item for one in said):
            if isinstance(item, Packet):
                self._last.setdefault(item.device, {})[item.characteristic] = item
            elif isinstance(item, SourceState):
                is_lost = item.condition is SourceCondition.LOST
                self._texts[item.source] = (item.text, is_lost)

    def lines(self, chosen: Chosen, t_ns: int) -> tuple[SensorLine, ...]:
        """Return how those that are used stand at a time of the session."""
        found = []
        for choice in self._choices:
            text, is_lost = self._texts.get(choice.name, ("", False))
            state = first(text, choice.name) if is_lost else ""
            last = self._last.get(choice.platform_id, {})
            line = _line(choice.name, text, state, choice, last, chosen, t_ns)
            if line.gives:
                found.append(line)
        return tuple(found)


def gives(chosen: Chosen, name: str, choice: SensorChoice) -> str:
    """Say what a sensor gives in a watch, empty = nothing."""
    use = chosen.sensors
    words = {one.casefold() for one in (name, choice.name, choice.platform_id) if one}
    roles = (
        ("power", use.power),
        ("the other side's power", use.power_other_side),
        ("cadence", use.cadence),
        ("the held power", use.trainer),
    )
    return " and ".join(role for role, word in roles if word.casefold() in words)


def first(text: str, name: str) -> str:
    """Return the first thing that a link says, without the sensor's name."""
    end = FIRST_END.search(text)
    return text[: end.start() if end else None].removeprefix(name).strip()


def rest(text: str) -> str:
    """Return what a link says after its first sentence: mostly, what to do."""
    return text.partition(". ")[2]


def _line(
    name: str,
    text: str,
    state: str,
    choice: SensorChoice,
    last: Mapping[str, Packet],
    chosen: Chosen,
    now_ns: int,
) -> SensorLine:
    what = gives(chosen, name, choice)
    whose = values_of(name, dict(last)).power_source() if "power" in what else ""
    whose = whose.removesuffix(NO_PLACE)
    came = [last[one].t_ns for one in MEASUREMENTS if one in last]
    age_s = (now_ns - max(came)) / NS_PER_S if came else math.nan
    return SensorLine(name, text, age_s, state, what, whose)
