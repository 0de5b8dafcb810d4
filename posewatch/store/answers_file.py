"""The answers file: JSON text with all that a visit asks, for a visit that nobody attends.

What it does not say was not asked: a rating is "not asked", a line of the check list is left out
with that reason. Items go by code, or by the plan's word ("item 2"); names have no place here.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Annotated, Final, Literal

from pydantic import Field, ValidationError

from posewatch.errors import BadInput
from posewatch.store.validated import FileKind, Part, first_problem, write_named
from posewatch.store.visit_header import VisitHeader
from posewatch.trials import acts
from posewatch.trials.bench_readings import require_gauged
from posewatch.trials.check_list import check_list, find_line, require_value
from posewatch.trials.code_list import CARD_LETTERS
from posewatch.trials.conduct_state import StartNeed
from posewatch.trials.item_passport import Fact, require_fact
from posewatch.trials.plan import Plan, PlannedVisit
from posewatch.trials.ratings import Region, require_guess

FORMAT: Final = "posewatch answers"
FORMAT_VERSION: Final = 1

#: A rating is one line to fill in.
_RATING = re.compile(r'\{\s+"comfort": (\S+),\s+"pain": (\S+)\s+\}')
Said = Annotated[str, Field(min_length=1)]
#: What a trial may begin without if it is said why.
PassedOver = Literal[StartNeed.CODES, StartNeed.WARM_UP, StartNeed.REST]
#: What stands on a line of the check list: true = done, or what was read.
Entered = Literal[True] | float | str
Rating = Annotated[float, Field(ge=0, le=10)]


class RatingPart(Part):
    """How one region felt, 0 to 10; null = not asked."""

    comfort: Rating | None = None
    pain: Rating | None = None


class TrialPart(Part):
    """What is said after a trial."""

    ratings: dict[Region, RatingPart] = Field(default_factory=dict)
    note: str = ""


class GuessPart(Part):
    """Which item the rider takes it for: the letter on the card, null = does not know."""

    guess: Annotated[str, Field(pattern=f"^[{CARD_LETTERS}]$")] | None
    confidence: Annotated[int, Field(ge=0, le=10)]
    reason: str = ""


class MountingPart(Part):
    """What is said of one mounting; number as in the plan, trials by their hand position.

    check_list: what is entered on its lines, by their keys. left_out: why others are left out.
    """

    number: Annotated[int, Field(ge=1)]
    check_list: dict[str, Entered] = Field(default_factory=dict)
    left_out: dict[str, Said] = Field(default_factory=dict)
    trials: dict[str, TrialPart] = Field(default_factory=dict)
    guess: GuessPart | None = None


class HardnessPart(Part):
    """Readings of a gauge at one place of an item; as ``trials.acts.Gauged``."""

    item: Said
    scale: Said
    zone: Said
    side: str = ""
    dwell_s: float
    backing: str = ""
    readings: tuple[float, ...]
    thickness_mm: float | None = None
    temperature_c: float | None = None

    def gauged(self, code: str) -> acts.Gauged:
        """Return it as trials have it, not yet timed."""
        return acts.Gauged(t_ns=0, code=code, **self.model_dump(exclude={"item"}))


class FactPart(Part):
    """One fact of an item."""

    item: Said
    fact: Fact
    value: float

    def known(self, code: str) -> acts.ItemFact:
        """Return it as trials have it, not yet timed."""
        return acts.ItemFact(0, code, self.fact, self.value)


class AnswersDocument(Part):
    """Everything that is answered.

    agreed: the rider has agreed to be recorded. check_list, left_out: of every mounting, unless one
    says otherwise. passed_over: what trials may begin without, and why.
    """

    format: Literal["posewatch answers"]
    format_version: Literal[1]
    operator: str = ""
    agreed: bool = False
    check_list: dict[str, Entered] = Field(default_factory=dict)
    left_out: dict[str, Said] = Field(default_factory=dict)
    passed_over: dict[PassedOver, Said] = Field(default_factory=dict)
    mountings: tuple[MountingPart, ...] = ()
    hardness: tuple[HardnessPart, ...] = ()
    facts: tuple[FactPart, ...] = ()
    notes: tuple[Said, ...] = ()

    def mounting(self, number: int) -> MountingPart:
        """Return what is said of a mounting; nothing where it is not there."""
        found = (one for one in self.mountings if one.number == number)
        return next(found, MountingPart(number=number))


KIND = FileKind(
    "visit answers",
    FORMAT,
    FORMAT_VERSION,
    "trial answers",
    "`posewatch trial answers` writes one to fill in.",
)


def read_answers(path: Path) -> AnswersDocument:
    """Read an answers file.

    Raises:
        BadInput: missing, not readable, not JSON, no answers file, of another version, or with a
            key or value that cannot be used.
    """
    text = KIND.read(path)
    KIND.require(text, str(path))
    try:
        return AnswersDocument.model_validate_json(text)
    except ValidationError as error:
        raise BadInput(f"{path} cannot be used: {first_problem(error)}.", KIND.again) from error


def entered_text(value: Entered) -> str:
    """Return what stands on a line as the record has it, empty for a plain tick."""
    if value is True:
        return ""
    return value if isinstance(value, str) else f"{value:.10g}"


def require_fit(answers: AnswersDocument, header: VisitHeader, number: int) -> None:
    """Refuse answers to what is not asked in a visit, before it begins.

    Raises:
        BadInput: says which.
    """
    design = header.plan.design
    parts: tuple[AnswersDocument | MountingPart, ...] = (answers, *answers.mountings)
    for part in parts:
        for key, value in part.check_list.items():
            require_value(find_line(design, key), entered_text(value))
        for key in part.left_out:
            find_line(design, key)
            if key in part.check_list:
                raise BadInput(
                    f"The answers both enter and leave out '{key}'.", "Keep one of the two."
                )
    _require_planned(answers, header.plan.visits[number - 1])
    for one in answers.mountings:
        for hands in one.trials:
            if hands not in design.hands:
                raise BadInput(
                    f"Mounting {one.number} is answered for {hands}, which is not planned.",
                    f"Planned are {', '.join(design.hands)}.",
                )
        if one.guess is not None:
            require_guess(design, one.guess.guess, one.guess.confidence)
    for hardness in answers.hardness:
        require_gauged(hardness.gauged(header.code_of(hardness.item)))
    for fact in answers.facts:
        require_fact(fact.known(header.code_of(fact.item)))


def _require_planned(answers: AnswersDocument, visit: PlannedVisit) -> None:
    planned = [one.number for one in visit.mountings]
    numbers = [one.number for one in answers.mountings]
    for number in numbers:
        if number not in planned or numbers.count(number) > 1:
            twice = "twice" if number in planned else f"and visit {visit.number} has no such one"
            raise BadInput(
                f"Mounting {number} is answered {twice}.",
                f"The visit has mountings {', '.join(map(str, planned))}.",
            )


def template(plan: Plan, number: int) -> AnswersDocument:
    """Return answers to fill in: everything that a visit asks, and nothing answered."""
    ratings = {region: RatingPart() for region in Region}
    mountings = tuple(
        MountingPart(
            number=one.number,
            trials={trial.hands: TrialPart(ratings=ratings) for trial in one.trials},
        )
        for one in plan.visits[number - 1].mountings
    )
    return AnswersDocument(
        format=FORMAT,
        format_version=FORMAT_VERSION,
        left_out={line.key: f"not done: {line.text}" for line in check_list(plan.design)},
        mountings=mountings,
    )


def write_answers(answers: AnswersDocument, path: Path) -> None:
    """Write answers to a new file.

    Raises:
        BadInput: the file exists already or cannot be written.
    """
    text = answers.model_dump_json(indent=2)
    write_named(path, _RATING.sub(r'{"comfort": \1, "pain": \2}', text) + "\n")
