"""What happens in a visit, one dataclass each, in the order of the visit's record.

``t_ns`` is the time on the visit's clock: 0 = its beginning. Items go by their codes; no act ever
holds an item's name.
"""

from __future__ import annotations

from dataclasses import dataclass

from posewatch.core.outputs import Phase
from posewatch.trials.words import RitualMoment


@dataclass(frozen=True, slots=True)
class VisitBegun:
    """The visit begins. visit: its number in the plan. operator: who runs it, as typed."""

    t_ns: int
    visit: int
    operator: str = ""


@dataclass(frozen=True, slots=True)
class Reopened:
    """The program was started anew in the middle of the visit. how: where it had stopped."""

    t_ns: int
    how: str


@dataclass(frozen=True, slots=True)
class WarmUp:
    """The warm-up on the rider's own gear begins or ends."""

    t_ns: int
    begins: bool


@dataclass(frozen=True, slots=True)
class MountingBegun:
    """The next planned item is put on or fitted afresh from here."""

    t_ns: int


@dataclass(frozen=True, slots=True)
class LineDone:
    """A line of the check list is done. value: what was read, empty for a plain tick."""

    t_ns: int
    line: str
    value: str = ""


@dataclass(frozen=True, slots=True)
class LineSkipped:
    """A line of the check list is left out, and why."""

    t_ns: int
    line: str
    reason: str


@dataclass(frozen=True, slots=True)
class RitualDone:
    """A step of the reset begins: the rider was told to. The trial is watched meanwhile."""

    t_ns: int
    moment: RitualMoment


@dataclass(frozen=True, slots=True)
class Overridden:
    """Something that a trial needs is passed over. need: its name. reason: why."""

    t_ns: int
    need: str
    reason: str


@dataclass(frozen=True, slots=True)
class TrialBegun:
    """The watch of a trial begins. folder: of its log, inside the visit's."""

    t_ns: int
    folder: str


@dataclass(frozen=True, slots=True)
class HoldSeen:
    """Where the hold stands, and confirmed strokes; only where the trial's phase changes."""

    t_ns: int
    phase: Phase
    n_confirmed: int


@dataclass(frozen=True, slots=True)
class Waiting:
    """The trial waits. cause: why, e.g. "paused", or what became of the camera."""

    t_ns: int
    cause: str


@dataclass(frozen=True, slots=True)
class WaitOver:
    """The trial goes on."""

    t_ns: int


@dataclass(frozen=True, slots=True)
class TrialClosed:
    """The watch of a trial has ended. reason: empty = as planned, else why it was broken off."""

    t_ns: int
    n_confirmed: int
    counted_ns: int
    reason: str = ""


@dataclass(frozen=True, slots=True)
class TrialRepeated:
    """The trial that ended last is to be ridden again; what was ridden is kept."""

    t_ns: int
    reason: str


@dataclass(frozen=True, slots=True)
class TrialSkipped:
    """The trial that is next is left out."""

    t_ns: int
    reason: str


@dataclass(frozen=True, slots=True)
class MountingSkipped:
    """The mounting under way, or the next one, and its trials are left out."""

    t_ns: int
    reason: str


@dataclass(frozen=True, slots=True)
class MountingEnded:
    """The item comes off load; it rests from here."""

    t_ns: int


@dataclass(frozen=True, slots=True)
class VisitEnded:
    """The visit is over. reason: empty = all was ridden."""

    t_ns: int
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Rated:
    """How one region felt in the last trial. value: 0 to 10, None = not asked."""

    t_ns: int
    region: str
    scale: str
    value: float | None


@dataclass(frozen=True, slots=True)
class Guessed:
    """Which item the rider takes it for, after a mounting that was concealed.

    guess: the letter on the rider's card, None = does not know. confidence: 0 to 10.
    """

    t_ns: int
    guess: str | None
    confidence: int
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Gauged:
    """Hardness readings of an item at one place. code: the item's. None = not known.

    scale: as printed on the gauge ("Shore OO"). zone, side: where. dwell_s: between contact and
    reading. backing: what lay under it. readings: one a touch.
    """

    t_ns: int
    code: str
    scale: str
    zone: str
    side: str
    dwell_s: float
    backing: str
    readings: tuple[float, ...]
    thickness_mm: float | None = None
    temperature_c: float | None = None


@dataclass(frozen=True, slots=True)
class ItemFact:
    """One fact of an item, as named in ``item_passport.Fact``; value in that fact's unit."""

    t_ns: int
    code: str
    fact: str
    value: float


@dataclass(frozen=True, slots=True)
class Noted:
    """What somebody wrote down."""

    t_ns: int
    text: str


@dataclass(frozen=True, slots=True)
class PhotoKept:
    """A picture of what was mounted. file: inside the visit's folder. sha256: of its bytes."""

    t_ns: int
    file: str
    sha256: str


@dataclass(frozen=True, slots=True)
class ClockJumped:
    """The wall clock was set by stepped_s, back is negative, or the machine slept for slept_s."""

    t_ns: int
    stepped_s: float
    slept_s: float


@dataclass(frozen=True, slots=True)
class DataLocked:
    """Nothing that counts is changed after this. who: locked it."""

    t_ns: int
    who: str


@dataclass(frozen=True, slots=True)
class Revealed:
    """The code list was opened. forced: before the data lock. sha256: of the sealed file."""

    t_ns: int
    who: str
    why: str
    forced: bool
    sha256: str


Act = (
    VisitBegun
    | Reopened
    | WarmUp
    | MountingBegun
    | LineDone
    | LineSkipped
    | RitualDone
    | Overridden
    | TrialBegun
    | HoldSeen
    | Waiting
    | WaitOver
    | TrialClosed
    | TrialRepeated
    | TrialSkipped
    | MountingSkipped
    | MountingEnded
    | VisitEnded
    | Rated
    | Guessed
    | Gauged
    | ItemFact
    | Noted
    | PhotoKept
    | ClockJumped
    | DataLocked
    | Revealed
)
