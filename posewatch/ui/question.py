"""A question to the operator: nothing waits for its answer, and silence is the safe one.

Without Qt: ``ask_bar`` shows it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from posewatch.ui.keys import Act


def _nothing() -> None:
    pass


@dataclass(frozen=True, slots=True)
class Question:
    """What is asked. Two are the same if they look the same.

    yes, no: what the answers are called. key: answers yes; Escape answers no.
    """

    words: str
    yes: str
    no: str
    key: Act = Act.YES
    on_yes: Callable[[], object] = field(default=_nothing, compare=False)
    on_no: Callable[[], object] = field(default=_nothing, compare=False)
