"""What went wrong or is worth knowing, with its time, until it has been read. Without Qt."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Protocol

from posewatch.core.envelope import Unit
from posewatch.core.outputs import (
    CadenceDiffers,
    CreepWarning,
    LengthsDiffer,
    Output,
    SmoothnessFlag,
)
from posewatch.core.records import Input, SourceCondition, SourceState
from posewatch.core.steadiness import LIMIT_PCT
from posewatch.core.timebase import clock_text
from posewatch.ui.channel_words import value_text
from posewatch.ui.health_view import Level

#: Older ones beyond so many go, so that nothing fills memory.
MOST = 100
CONDITIONS = {
    SourceCondition.RUNNING: "is there again",
    SourceCondition.LOST: "lost",
    SourceCondition.VIEW_MOVED: "view moved",
    SourceCondition.SLOW: "slow",
    SourceCondition.DARK: "dark",
    SourceCondition.STEPPED: "stepped",
    SourceCondition.LITTLE: "little left",
    SourceCondition.FULL: "full",
    SourceCondition.ENDED: "ended",
}


@dataclass(frozen=True, slots=True)
class Message:
    """One message. t_ns: session time of its last coming, None = outside a watch.

    cause: what makes two of them the same; times: how often it came.
    """

    t_ns: int | None
    cause: str
    text: str
    level: Level
    times: int = 1
    read: bool = False

    @property
    def line(self) -> str:
        """The whole of it."""
        again = f" ({self.times} times)" if self.times > 1 else ""
        when = "" if self.t_ns is None else f"{clock_text(self.t_ns)}  "
        return f"{when}{self.text}{again}"


Messages = tuple[Message, ...]


class Note(Protocol):
    """Takes what a window itself has to say."""

    def __call__(self, text: str, level: Level = Level.WARN) -> None: ...


def add(messages: Messages, new: Message) -> Messages:
    """Add a message; one of the same cause that waits to be read is counted up."""
    same = next((m for m in messages if m.cause == new.cause and not m.read), None)
    if same is None:
        return (*messages, new)[-MOST:]
    others = tuple(m for m in messages if m is not same)
    return (*others, replace(new, times=same.times + 1))


def unread(messages: Messages) -> Messages:
    """Return those that wait to be read, newest first."""
    return tuple(m for m in reversed(messages) if not m.read)


def read_all(messages: Messages) -> Messages:
    """Take all as read."""
    return tuple(replace(m, read=True) for m in messages)


def found(item: Input, outputs: tuple[Output, ...]) -> list[Message]:
    """Return the messages in what came out of one input."""
    new = []
    if isinstance(item, SourceState):
        new.append(_of_source(item))
    for output in outputs:
        if isinstance(output, CreepWarning):
            new.append(_of_creep(output))
        elif isinstance(output, LengthsDiffer):
            new.append(_of_lengths(output))
        elif isinstance(output, CadenceDiffers):
            new.append(_of_cadence(output))
        elif isinstance(output, SmoothnessFlag):
            new.append(_of_unsteadiness(output))
    return new


def _of_cadence(differ: CadenceDiffers) -> Message:
    return Message(
        differ.t_ns,
        "cadence differs",
        f"the sensor's cadence is {differ.difference_rpm:+.0f} rpm off the pedalling that is seen. "
        "Look whether it is this bike's sensor, and where its magnet is.",
        Level.WARN,
    )


def _of_unsteadiness(flag: SmoothnessFlag) -> Message:
    return Message(
        flag.t_ns,
        f"unsteady {flag.measure}",
        f"unsteady: the {flag.measure} varied by {flag.cv_pct:.1f} % over 30 s (limit "
        f"{LIMIT_PCT:g} %). It counts all the same, and is flagged.",
        Level.WARN,
    )


def _of_source(state: SourceState) -> Message:
    cause = f"{state.source}: {CONDITIONS[state.condition]}"
    back = state.condition in (SourceCondition.RUNNING, SourceCondition.ENDED)
    return Message(
        state.t_ns,
        cause,
        state.text or f"{cause}.",
        Level.WELL if back else Level.WARN,
    )


def _of_creep(warning: CreepWarning) -> Message:
    minutes = warning.span_ns // 60_000_000_000
    change = value_text(warning.channel, warning.unit, warning.change)
    about = "about " if warning.unit is Unit.THIGH else ""
    return Message(
        warning.t_ns,
        f"creep {warning.channel}",
        f"creeping in band: {warning.channel} by {about}{change} in {minutes} min. "
        "Look whether the rider has shifted, or the camera.",
        Level.WARN,
    )


def _of_lengths(differ: LengthsDiffer) -> Message:
    longer = "longer" if differ.share > 0 else "shorter"
    return Message(
        differ.t_ns,
        f"lengths {differ.segment}",
        f"is this the target's rider? The {differ.segment} is {abs(100 * differ.share):.0f} % "
        f"{longer}. Look at target and crosses.",
        Level.WARN,
    )
