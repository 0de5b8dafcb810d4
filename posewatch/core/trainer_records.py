"""What is said to a trainer and by it, besides its measurements, and what to be careful about."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

#: Begins the source of a condition that tells how a trainer is held; its name follows.
HOLD_OF = "power hold of "

CAUTIONS_TITLE = "Before a trainer holds the power:"
CAUTIONS = (
    "The rider must be pedalling when the power is set or raised. A trainer that holds the power "
    "presses harder the slower the cranks turn.",
    "A stop must be in reach of the rider and of the operator: this program's, and the trainer's "
    "switch or plug.",
    "Never raise the power without telling the rider first, by how much and when.",
    "If the cadence sinks and the pedals grow heavy, let go of the power; do not push through.",
)
SWITCH_OFF = (
    "If the pedals stay heavy, let the rider stop and switch the trainer off or pull its plug."
)


class Order(StrEnum):
    """What is sent to the trainer; END_LINK ends the connection instead."""

    REQUEST_CONTROL = "request control"
    SET_POWER = "set the power"
    STOP = "stop"
    RESET = "give up control"
    END_LINK = "end the link"


class Result(StrEnum):
    """What a trainer answers."""

    SUCCESS = "done"
    NOT_SUPPORTED = "it cannot do that"
    INVALID = "it does not take that value"
    FAILED = "it failed"
    NOT_PERMITTED = "another program has control of it"
    OTHER = "an answer that is not known"


@dataclass(frozen=True, slots=True)
class Command:
    """One order; watts: for SET_POWER."""

    order: Order
    watts: int = 0


@dataclass(frozen=True, slots=True)
class PowerRange:
    """What the trainer says it can hold, in W."""

    lowest_w: int
    highest_w: int


@dataclass(frozen=True, slots=True)
class Answered:
    """The trainer answered an order."""

    order: Order
    result: Result


@dataclass(frozen=True, slots=True)
class ControlTaken:
    """The trainer says that this program's permission is over."""


@dataclass(frozen=True, slots=True)
class StoppedThere:
    """The trainer was stopped or reset at its own controls."""
