"""What a command came to, for tests that run commands."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol


@dataclass(frozen=True)
class Ran:
    """Exit status, standard output and standard error."""

    status: int
    out: str
    err: str

    @property
    def last_line(self) -> str:
        """The last line of the output."""
        return self.out.splitlines()[-1]


class Run(Protocol):
    """Runs ``posewatch`` with these arguments."""

    def __call__(self, *arguments: object) -> Ran: ...
