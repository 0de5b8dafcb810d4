"""What an operator reads of a sensor's link: what happened and what to do; each told once."""

from __future__ import annotations

from dataclasses import dataclass

from posewatch.core.records import SourceCondition, SourceState
from posewatch.core.sensor_choice import MEASUREMENTS
from posewatch.core.sensor_link import OBSTACLES, Cause, LinkState, Phase
from posewatch.core.sensor_records import Characteristic
from posewatch.core.timebase import to_s

#: What stands in the way of Bluetooth altogether, and what to do about it.
OBSTACLE_WORDS = {
    Phase.OFF: (
        "Bluetooth is switched off.",
        "Switch it on; sensors are then found by themselves.",
    ),
    Phase.NO_SERVICE: (
        "The Bluetooth service of this computer does not run.",
        "On Linux, install the package bluez and start it: systemctl start bluetooth.",
    ),
    Phase.NO_ADAPTER: (
        "This computer has no Bluetooth for such sensors.",
        "Plug in a Bluetooth adapter (4.0 or later, Low Energy).",
    ),
    Phase.NOT_ALLOWED: (
        "This program may not use Bluetooth.",
        "On macOS, allow it in System Settings, Privacy & Security, Bluetooth, for the program it "
        "was started from (the terminal); on Linux, the user may have to be in the group "
        "bluetooth.",
    ),
}


@dataclass(frozen=True, slots=True)
class Told:
    """What was last said of a sensor: its texts since it was last live, and when it was lost."""

    live: bool = False
    texts: frozenset[str] = frozenset()
    lost_ns: int | None = None


def describe(state: LinkState, name: str) -> str:
    """Return how a sensor stands, in a sentence or two."""
    if state.phase in OBSTACLES:
        return " ".join(OBSTACLE_WORDS[state.phase])
    if state.phase is Phase.LIVE:
        unheard = [one.characteristic for one in state.streams if one.last_ns is None]
        note = f" It sends no {_measured(unheard)}." if unheard else ""
        return f"{name} gives values.{note}"
    if state.phase is Phase.CONNECTING and not state.connected:
        return f"{name} is being connected."
    if state.phase is Phase.CONNECTING:
        return f"{name} is connected; its first value has not come yet."
    if state.phase is Phase.SEARCHING:
        return (
            f"{name} is searched for. If it is not found, wake it (turn the cranks, wear the "
            "strap), and see that no other program or display has it."
        )
    return _trouble(state, name)


def tell(
    told: Told, state: LinkState, name: str, t_ns: int
) -> tuple[Told, tuple[SourceState, ...]]:
    """Return what is to be said now: running, or lost with each reason once a loss."""
    if state.phase is Phase.LIVE:
        if told.live:
            return told, ()
        text = f"{name} gives values."
        if told.lost_ns is not None:
            text = f"{name} gives values again after {to_s(t_ns - told.lost_ns):.1f} s."
        return Told(live=True), (SourceState(t_ns, name, SourceCondition.RUNNING, text),)
    waits = state.phase is Phase.CONNECTING or (
        state.phase is Phase.SEARCHING and state.cause is Cause.NONE
    )
    text = describe(state, name)
    if waits or text in told.texts:
        return told, ()
    lost_ns = t_ns if told.live else told.lost_ns
    told = Told(texts=told.texts | {text}, lost_ns=lost_ns)
    return told, (SourceState(t_ns, name, SourceCondition.LOST, text),)


def _trouble(state: LinkState, name: str) -> str:
    if state.phase is Phase.TAKEN:
        return (
            f"{name} is there but lets nobody in: another program or display seems to have it. "
            "Close that program, or unpair it there; it is tried again."
        )
    if state.cause is Cause.NO_FIRST_VALUE:
        return f"{name} is connected but sends nothing. Turn the cranks; it is connected anew."
    if state.cause is Cause.STOPPED:
        return (
            f"{name} is connected but sends nothing any more; it is connected anew. Turn the "
            "cranks; if nothing comes, take out its battery and put it in again."
        )
    if state.cause is Cause.NOTHING_TO_READ:
        return f"{name} offers nothing that can be read here. Choose another sensor."
    why = {
        Cause.SUDDEN: "was gone while it sent values: another program or display may have taken it "
        "(close that one), or its battery is empty.",
        Cause.AT_REST: "has gone to sleep after a rest. Turn the cranks or wear the strap.",
        Cause.FADED: "is out of reach, or its battery is empty. Bring the computer nearer.",
    }.get(
        state.cause,
        "is not found. Wake it (turn the cranks, wear the strap), and see that no other program or "
        "display has it.",
    )
    return f"{name} {why} It is looked for all the time."


def _measured(characteristics: list[str]) -> str:
    return " or ".join(str(MEASUREMENTS[Characteristic(one)]) for one in characteristics)
