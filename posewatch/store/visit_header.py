"""What a visit's record says of itself before anything happens."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from posewatch.errors import BadInput
from posewatch.trials.acts import Act
from posewatch.trials.plan import Plan
from posewatch.trials.words import item_words


@dataclass(frozen=True, slots=True)
class VisitHeader:
    """Everything known before the first act.

    plan_sha256: of the plan file's bytes. codes: of the items, in the order of the plan's slots.
    sealed_sha256: of the sealed code list, published here before the first trial; empty = items
    are not concealed. consent: the line that says who agreed to what, empty = nobody did.
    keep_until: date after which it should be deleted, ISO 8601, empty = not said. rehearsal:
    nothing in it counts, and its waits are passed over. fast: ridden from clips or recordings,
    faster than life, so that waits are passed over on the visit's clock. versions: of the program
    and its libraries. created: wall time, ISO 8601.
    """

    plan: Plan
    plan_sha256: str
    codes: tuple[str, ...]
    sealed_sha256: str
    consent: str
    keep_until: str
    rehearsal: bool
    fast: bool
    versions: Mapping[str, str]
    created: str

    def code_of(self, word: str) -> str:
        """Return the code of an item by its code, or by what the plan calls it ("item 2").

        Raises:
            BadInput: there is no such item.
        """
        by_word = {item_words(slot): code for slot, code in enumerate(self.codes)}
        found = by_word | {code.casefold(): code for code in self.codes}
        code = found.get(word.strip().casefold())
        if code is None:
            raise BadInput(f"No item is called {word!r}.", f"Give one of {', '.join(self.codes)}.")
        return code


@dataclass(frozen=True, slots=True)
class KeptAct:
    """An act in the record. seq counts from 1. wall_ns: when it was kept, since 1970-01-01 UTC."""

    seq: int
    wall_ns: int
    act: Act
