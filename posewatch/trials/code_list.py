"""The code list: which code stands for which item, and how codes and their assignment are drawn.

The draw never touches the plan's seed, which everybody may know: chance is an argument, and the
program passes ``secrets.SystemRandom()``.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Protocol, TypeVar

from posewatch.errors import BadInput
from posewatch.trials.words import FEWEST_ITEMS, MOST_ITEMS

#: No vowels, so that no code is a word, and of letters and digits that look alike in handwriting
#: or on a small screen (O 0 D Q, I 1 L, Z 2, S 5, B 8, G 6, U V, M N) at most one.
LETTERS = "CFHJKMPRTWX"
DIGITS = "23456789"
CODE_PATTERN = f"^[{LETTERS}][{DIGITS}]$"

#: How items are told apart without their names: A for the one that was named first, and so on.
CARD_LETTERS = "ABCDEFGH"
MOST_NAME = 80
MOST_DESCRIPTION = 300
NONCE_BYTES = 32

T = TypeVar("T")


class Chance(Protocol):
    """What is asked of a source of chance; ``secrets.SystemRandom()`` and ``random.Random`` fit."""

    def sample(self, population: Sequence[T], k: int) -> list[T]:
        """Return k different members in a random order."""

    def randbytes(self, n: int) -> bytes:
        """Return n random bytes."""


@dataclass(frozen=True, slots=True)
class Item:
    """A thing that is compared, as the person who seals names it; never shown in a ``repr``."""

    name: str = field(repr=False)
    description: str = field(default="", repr=False)


@dataclass(frozen=True, slots=True)
class CodedItem:
    """An item behind its code.

    code: a letter and a digit. card: A, B, ... in the order in which the items were named; the
    rider has these letters with the names on a card and guesses a letter, so that the record holds
    no name. Only the code is in the ``repr``, so that no log or traceback tells more.
    """

    code: str
    card: str = field(repr=False)
    item: Item = field(repr=False)


@dataclass(frozen=True, slots=True)
class CodeList:
    """What stands for the items of one plan.

    slots: in the order of the plan's items. nonce: 256 random bits in hexadecimal, so that nobody
    finds the list by trying names. plan_sha256: of the bytes of the plan's file. created: UTC,
    ISO 8601.
    """

    slots: tuple[CodedItem, ...]
    nonce: str = field(repr=False)
    plan_sha256: str
    created: str

    @property
    def codes(self) -> tuple[str, ...]:
        """The codes in the order of the plan's items."""
        return tuple(slot.code for slot in self.slots)

    @property
    def as_named(self) -> tuple[CodedItem, ...]:
        """The items in the order in which they were named, which tells nothing of the plan's."""
        return tuple(sorted(self.slots, key=lambda slot: slot.card))

    def behind(self, code: str) -> CodedItem:
        """Return the item behind a code.

        Raises:
            BadInput: this list has no such code.
        """
        for slot in self.slots:
            if slot.code == code:
                return slot
        raise BadInput(
            f"The code list has no code {code!r}.", f"Codes are {', '.join(self.codes)}."
        )


def make_code_list(
    items: Sequence[Item], plan_sha256: str, created: str, chance: Chance
) -> CodeList:
    """Draw the codes and which item gets which, all orders equally likely.

    Codes of one list differ in both characters, so that one that is misheard or misread by a
    character is none of them.

    Raises:
        BadInput: as :func:`require_items` says.
    """
    kept = require_items(items)
    n = len(kept)
    drawn = zip(
        chance.sample(LETTERS, n), chance.sample(DIGITS, n), chance.sample(range(n), n), strict=True
    )
    slots = tuple(CodedItem(letter + digit, CARD_LETTERS[k], kept[k]) for letter, digit, k in drawn)
    return CodeList(slots, chance.randbytes(NONCE_BYTES).hex(), plan_sha256, created)


def require_items(items: Sequence[Item]) -> tuple[Item, ...]:
    """Return the items without spaces around their words.

    Messages give an item's letter and never its name: they go into the log.

    Raises:
        BadInput: too few or too many, or a name that is empty, too long, there twice, not
            printable, or a possible code.
    """
    if not FEWEST_ITEMS <= len(items) <= MOST_ITEMS:
        raise BadInput(
            f"{len(items)} items cannot be compared.",
            f"Name {FEWEST_ITEMS} to {MOST_ITEMS} items.",
        )
    seen: dict[str, str] = {}
    for letter, item in zip(CARD_LETTERS, items, strict=False):
        problem = _problem(item)
        if problem:
            raise BadInput(f"Item {letter}: {problem}.", "Name it otherwise.")
        earlier = seen.setdefault(folded(item.name), letter)
        if earlier != letter:
            raise BadInput(
                f"Items {earlier} and {letter} have the same name.",
                "Name them so that they can be told apart.",
            )
    return tuple(Item(item.name.strip(), item.description.strip()) for item in items)


def _problem(item: Item) -> str:
    """Return what is wrong with an item's words, empty = nothing."""
    name, description = item.name.strip(), item.description.strip()
    if not folded(name):
        return "its name has no letter or digit"
    if len(name) > MOST_NAME or len(description) > MOST_DESCRIPTION:
        return f"a name may have {MOST_NAME} characters, a description {MOST_DESCRIPTION}"
    if not (name.isprintable() and description.isprintable()):
        return "it holds characters that cannot be shown"
    if re.match(CODE_PATTERN, name.upper()):
        return "its name could be taken for a code"
    return ""


def folded(text: str) -> str:
    """Return the letters and digits of a text in one case: what is left is the same name."""
    return "".join(words(text))


def words(text: str) -> list[str]:
    """Return the runs of letters and digits of a text, in one case and one Unicode form."""
    plain = unicodedata.normalize("NFKC", text).casefold()
    return re.findall(r"[^\W_]+", unicodedata.normalize("NFKC", plain))
