"""How a trainer that holds the power stands, what happens to it, and the limits that it is kept to.

:mod:`core.trainer_control` decides with these.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from posewatch.core.trainer_cadence import Cadence, CadenceLimits
from posewatch.core.trainer_records import Answered, ControlTaken, Order, PowerRange, StoppedThere


class Stage(StrEnum):
    """How far it has come."""

    OFF = "off"
    REQUESTING = "asking for control"
    SETTING = "setting the power"
    HOLDING = "holding"
    LOWERING = "lowering"
    STOPPING = "stopping"
    GIVING_UP = "giving up control"


RELEASING = (Stage.LOWERING, Stage.STOPPING, Stage.GIVING_UP)


@dataclass(frozen=True, slots=True)
class ControlLimits:
    """Limits of control.

    raise_w: more than that in one step must be confirmed; so must smaller ones that come to more
    within adds_up_s. safe_w: what the power is lowered to before control is given up. lowest_w,
    highest_w: never more or less, whatever a trainer can. answer_s: for the answer to each order.
    release_s, hurry_s: for each step of letting go; the second when the program ends. confirm_s: a
    confirmation that comes later is none. cadence: what is too slow for a held power.
    """

    raise_w: int = 20
    safe_w: int = 50
    lowest_w: int = 25
    highest_w: int = 500
    answer_s: float = 3.0
    release_s: float = 1.0
    hurry_s: float = 0.3
    confirm_s: float = 30.0
    adds_up_s: float = 60.0
    cadence: CadenceLimits = field(default_factory=CadenceLimits)


@dataclass(frozen=True, slots=True)
class Asked:
    """The operator asks for a power. cadence_rpm: planned with it, None = none is."""

    watts: int
    cadence_rpm: float | None = None


@dataclass(frozen=True, slots=True)
class Confirmed:
    """The operator has told the rider and confirms the raise to that power."""

    watts: int


@dataclass(frozen=True, slots=True)
class Released:
    """The trainer is to be let go. hurried: the program, or the link, is about to end."""

    hurried: bool = False


@dataclass(frozen=True, slots=True)
class Turned:
    """A sensor told the cadence."""

    rpm: float


@dataclass(frozen=True, slots=True)
class Ranged:
    """The trainer told its range."""

    power: PowerRange


@dataclass(frozen=True, slots=True)
class Unsent:
    """An order could not be sent. why: for the operator."""

    order: Order
    why: str


@dataclass(frozen=True, slots=True)
class Lost:
    """The link to the trainer is gone."""


ControlEvent = (
    Asked
    | Confirmed
    | Released
    | Turned
    | Ranged
    | Answered
    | Unsent
    | ControlTaken
    | StoppedThere
    | Lost
)


@dataclass(frozen=True, slots=True)
class ControlState:
    """How the trainer stands.

    held_w: the power that it confirmed to hold, None = none. sent_w: the last that was sent.
    wanted_w: the one that is wanted and may be sent. lower: (until when, W) of powers from which it
    was raised lately without a confirmation. unconfirmed_w: a raise that waits for its confirmation
    until confirm_by_ns. due_ns: of the answer that is waited for. fault: it was let go because
    something went wrong. text: for the operator.
    """

    stage: Stage = Stage.OFF
    held_w: int | None = None
    sent_w: int | None = None
    wanted_w: int | None = None
    lower: tuple[tuple[int, int], ...] = ()
    unconfirmed_w: int | None = None
    confirm_by_ns: int = 0
    due_ns: int | None = None
    range: PowerRange | None = None
    cadence: Cadence = Cadence()
    hurried: bool = False
    fault: bool = False
    text: str = "The trainer is not held."

    @property
    def settled(self) -> bool:
        """Whether no answer is being waited for."""
        return self.stage in (Stage.OFF, Stage.HOLDING)

    @property
    def is_in_force(self) -> bool:
        """Whether the trainer may hold a power that is not being taken from it."""
        return self.stage in (Stage.SETTING, Stage.HOLDING)
