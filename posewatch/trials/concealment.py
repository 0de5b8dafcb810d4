"""Who may know what, and when: guesses, the reveal, and names where none should be."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from posewatch.errors import BadInput
from posewatch.trials.code_list import CARD_LETTERS, CodeList, folded, words

MOST_CONFIDENCE = 10
#: What every report and export carries once the codes were revealed too early.
EARLY_STAMP = "codes revealed before the data lock: nothing ridden after that is blind"
#: A folded name of at least so many characters is found inside other words too.
DISTINCT = 6


@dataclass(frozen=True, slots=True)
class Guess:
    """Which item the rider takes a code for; asked after a mounting, before any result is shown.

    guess: the letter on the rider's card, None = "I do not know"; a letter, because a name would be
    in the record before the reveal. confidence: 0 (none) to 10 (certain). reason: in the rider's
    words.

    Raises:
        BadInput: a letter or a confidence that cannot be.
    """

    code: str
    guess: str | None
    confidence: int
    reason: str = ""

    def __post_init__(self) -> None:
        # True and 3.0 are equal to whole numbers and are none.
        if type(self.confidence) is not int or not 0 <= self.confidence <= MOST_CONFIDENCE:
            raise BadInput(
                f"The confidence of a guess cannot be {self.confidence!r}.",
                f"Give a whole number, 0 (none) to {MOST_CONFIDENCE} (certain).",
            )
        if self.guess is not None and self.guess not in tuple(CARD_LETTERS):
            raise BadInput(
                "A guess is a letter from the rider's card.",
                f"Give A, B, ... up to {CARD_LETTERS[-1]}, or say that it is not known.",
            )


def guessed_right(guess: Guess, code_list: CodeList) -> bool | None:
    """Return whether a guess was right, None = the rider did not know.

    Raises:
        BadInput: the list has no such code, or no item of that letter.
    """
    truth = code_list.behind(guess.code).card
    if guess.guess is None:
        return None
    if guess.guess not in [slot.card for slot in code_list.slots]:
        raise BadInput(
            f"A guess says {guess.guess}, and there are {len(code_list.slots)} items.",
            "See whether the code list belongs to this session.",
        )
    return guess.guess == truth


@dataclass(frozen=True, slots=True)
class Reveal:
    """The record of one opening of a code list.

    at_utc: ISO 8601. forced: before the data lock. sha256: of the sealed file that was opened.
    """

    who: str
    why: str
    at_utc: str
    forced: bool
    sha256: str

    @property
    def stamp(self) -> str:
        """What reports and exports must carry because of it, empty = nothing."""
        return EARLY_STAMP if self.forced else ""


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why a reveal may not be, and what to do."""

    what: str
    advice: str


def decide_reveal(
    who: str,
    why: str,
    at_utc: str,
    sha256: str,
    *,
    published: str | None,
    locked: bool,
    forced: bool,
) -> Reveal | Refusal:
    """Return the record of a reveal, to be logged before anything is shown, or the refusal.

    sha256: of the sealed file at hand. published: the one that the session has had since before
    its first trial, None = no session is at hand. locked: the data are locked. forced: reveal all
    the same; it bends the lock only, and is in the record only where it was needed.
    """
    who, why = who.strip(), why.strip()
    if not who or not why:
        missing = "why" if who else "who" if why else "who and why"
        return Refusal(f"It is not said {missing}.", "A reveal is recorded with who asked and why.")
    if published is not None and sha256 != published:
        return Refusal(
            "This is not the code list that was published before the first trial: its SHA-256 is "
            f"{sha256}, not {published}.",
            "Give the sealed file that the session began with.",
        )
    if not locked and not forced:
        return Refusal(
            "The data are not locked yet; whoever knows the codes now is not blind any more.",
            "Lock the data first, or force it: the session is then stamped.",
        )
    return Reveal(who, why, at_utc, not locked, sha256)


def require_nothing_named(made: CodeList, public: str) -> None:
    """Refuse names that the plan, or the name of a file, would carry into every record.

    public: all that is said in the open before the reveal.

    Raises:
        BadInput: says which items by their letters.
    """
    given_away = names_in(public, [slot.item.name for slot in made.as_named])
    if given_away:
        letters = ", ".join(made.as_named[place].card for place in given_away)
        raise BadInput(
            f"The plan, or the name of a file, holds the name of item {letters}, and would give it "
            "away in every record.",
            "Name the item otherwise; or make the plan, or name the file, without it.",
        )


def names_in(text: str, names: Sequence[str]) -> tuple[int, ...]:
    """Return which of the names a text gives away, as their places in ``names``.

    Case, spaces, punctuation and how accents are encoded make no difference: "Blue-Nine" is found
    in "blue nine", "BLUENINE" and "blue_nine.json". A short name must begin and end with a word
    of the text; a name of six or more letters and digits is also found inside words.
    """
    said = words(text)
    joined = "".join(said)
    return tuple(
        place
        for place, name in enumerate(map(folded, names))
        if name and ((len(name) >= DISTINCT and name in joined) or _run_of(said, name))
    )


def _run_of(said: Sequence[str], name: str) -> bool:
    """Tell whether some words in a row, written together, are the name."""
    for first in range(len(said)):
        rest = name
        for word in said[first:]:
            if not rest.startswith(word):
                break
            rest = rest[len(word) :]
            if not rest:
                return True
    return False
