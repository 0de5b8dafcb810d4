"""What the operator types into the visit panel, and the acts that come of it. Without Qt.

Acts come with any time; it is set when they are kept. Whatever cannot be raises ``BadInput``, and
what was typed stays to be put right.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial

from posewatch.errors import BadInput
from posewatch.trials import acts
from posewatch.trials.acts import Act
from posewatch.trials.check_list import require_value
from posewatch.trials.conduct_state import StartNeed
from posewatch.trials.kinds import CheckLine, Entry
from posewatch.trials.plan import Design
from posewatch.trials.ratings import ENDS, LEAST, MOST, Region, Scale, card_letters, require_guess
from posewatch.ui.visit_lines import Skip

NOT_ASKED = "not asked"
#: Typed for what was not asked, and for a guess that the rider does not have.
HYPHEN, UNKNOWN = "-", "?"


@dataclass(frozen=True, slots=True)
class Field:
    """Something to type in. name: for those who hear it read. text: there already."""

    name: str
    text: str = ""
    hint: str = ""


@dataclass(frozen=True, slots=True)
class FormRow:
    """Fields side by side."""

    label: str
    fields: tuple[Field, ...]


@dataclass(frozen=True, slots=True)
class Form:
    """A few things to type. words: lines above them. heads: above the fields.

    read: makes acts of what was typed, in the order of the fields.
    """

    title: str
    rows: tuple[FormRow, ...]
    read: Callable[[Sequence[str]], Sequence[Act]]
    words: tuple[str, ...] = ()
    heads: tuple[str, ...] = ()

    @property
    def fields(self) -> tuple[Field, ...]:
        """All fields, in order."""
        return tuple(field for row in self.rows for field in row.fields)


def one_row(label: str, text: str = "", hint: str = "") -> FormRow:
    """Return a row of one field."""
    return FormRow(label, (Field(label, text, hint),))


def reason(title: str, read: Callable[[str], Sequence[Act]]) -> Form:
    """Ask for a reason."""

    def with_reason(texts: Sequence[str]) -> Sequence[Act]:
        return read(require_reason(texts[0]))

    return Form(title, (one_row("why"),), with_reason)


def require_reason(text: str) -> str:
    """Return a reason that was typed.

    Raises:
        BadInput: none was.
    """
    if not text.strip():
        raise BadInput("No reason is given.", "Type why; it is kept.")
    return text.strip()


def check_line(line: CheckLine) -> Form:
    """Ask for what is entered on a line of the check list."""

    def read(texts: Sequence[str]) -> Sequence[Act]:
        value = texts[0].strip()
        if line.entry is Entry.NUMBER:
            value = value.removesuffix(line.unit).strip().replace(",", ".") if line.unit else value
        require_value(line, value)
        return (acts.LineDone(0, line.key, value),)

    label = f"read, in {line.unit}" if line.unit else "read"
    return Form(line.text, (one_row(label),), read)


def skip(skips: Sequence[Skip]) -> Form:
    """Ask what is left out, and why."""

    def read(texts: Sequence[str]) -> Sequence[Act]:
        number = texts[0].strip()
        if not number.isdecimal() or not 1 <= int(number) <= len(skips):
            raise BadInput(f"'{number}' is none of these.", f"Give 1 to {len(skips)}.")
        why = require_reason(texts[1])
        return (replace(skips[int(number) - 1].act, reason=why),)

    words = tuple(f"{number}  {one.name}" for number, one in enumerate(skips, 1))
    rows = (one_row("which", "1"), one_row("why"))
    return Form("leave out", rows, read, words)


def note() -> Form:
    """Ask for a note, and for a picture of what is mounted; the desk fills in what it becomes."""

    def read(texts: Sequence[str]) -> Sequence[Act]:
        text, picture = (one.strip() for one in texts)
        if not text and not picture:
            raise BadInput("Nothing is written.", "Type the note, or leave it with Escape.")
        # The picture first: where it cannot be kept, the note is not yet.
        said: list[Act] = [acts.PhotoKept(0, picture, "")] if picture else []
        return (*said, acts.Noted(0, text)) if text else said

    return Form("note", (one_row("note"), one_row("picture", hint="its file, or nothing")), read)


def begin_visit(numbers: int, number: int) -> Form:
    """Ask who runs the visit, and which one it is where the plan has several."""

    def read(texts: Sequence[str]) -> Sequence[Act]:
        which = texts[1].strip() if numbers > 1 else str(number)
        if not which.isdecimal():
            raise BadInput(f"'{which}' is no visit.", f"Give 1 to {numbers}.")
        return (acts.VisitBegun(0, int(which), texts[0].strip()),)

    rows = [one_row("who runs it", hint="a code or initials, or nothing")]
    if numbers > 1:
        rows.append(one_row(f"visit, 1 to {numbers}", str(number)))
    return Form("begin the visit", tuple(rows), read)


def ratings(hands: str) -> Form:
    """Ask how the last trial felt, region by region; an empty field was not asked."""
    rows = tuple(
        FormRow(region, tuple(Field(f"{scale}, {region}", hint=NOT_ASKED) for scale in Scale))
        for region in Region
    )
    ends = tuple(
        f"{scale}: {LEAST:g} = {least}, {MOST:g} = {most}" for scale, (least, most) in ENDS.items()
    )
    return Form(f"the trial on the {hands}", rows, _rated, ends, tuple(Scale))


def _rated(texts: Sequence[str]) -> Sequence[Act]:
    asked = [(region, scale) for region in Region for scale in Scale]
    return [
        acts.Rated(0, region, scale, _rating(text, f"{scale}, {region}"))
        for (region, scale), text in zip(asked, texts, strict=True)
    ]


def _rating(text: str, what: str) -> float | None:
    if text.strip() in ("", HYPHEN):
        return None
    value = number(text, what)
    if not LEAST <= value <= MOST:
        raise BadInput(
            f"{what} cannot be {value:g}.", f"Give {LEAST:g} to {MOST:g}, or nothing: {NOT_ASKED}."
        )
    return value


def guess(design: Design) -> Form:
    """Ask which item it may have been; nothing typed = the rider was not asked."""
    letters = card_letters(design)
    rows = (
        one_row("letter", hint=f"{', '.join(letters)}; {UNKNOWN} = does not know"),
        one_row("sure", hint="0 = not at all, 10 = certain"),
        one_row("because", hint="in the rider's words"),
    )
    words = ("from the rider's card; all left empty = not asked",)
    return Form("which item was it?", rows, partial(_guessed, design), words)


def _guessed(design: Design, texts: Sequence[str]) -> Sequence[Act]:
    letter, sure, because = (text.strip() for text in texts)
    if not (letter or sure or because):
        return (acts.Overridden(0, StartNeed.GUESS, NOT_ASKED),)
    if not letter:
        raise BadInput("No letter is given.", f"Give one of the card's, or {UNKNOWN}.")
    if not sure.isdecimal():
        raise BadInput("It is not said how sure the rider is.", "Give 0 to 10.")
    said = None if letter == UNKNOWN else letter.upper()
    require_guess(design, said, int(sure))
    return (acts.Guessed(0, said, int(sure), because),)


def number(text: str, what: str) -> float:
    """Read a number, with a decimal point or comma.

    Raises:
        BadInput: it is none.
    """
    try:
        return float(text.strip().replace(",", "."))
    except ValueError as error:
        raise BadInput(f"{what}: '{text}' is no number.", "Type one, e.g. 12.5.") from error
