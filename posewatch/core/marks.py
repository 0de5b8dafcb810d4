"""The operator's marks as a log has them: set, named later, taken back but never gone."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from posewatch.core.records import Command, CommandKind


@dataclass(frozen=True, slots=True)
class LoggedMark:
    """One mark. number counts from 1 in the order of the log. withdrawn: it was taken back."""

    number: int
    t_ns: int
    label: str
    withdrawn: bool = False


def logged_marks(commands: Iterable[Command]) -> tuple[LoggedMark, ...]:
    """Return the marks of a log's commands; a word about one that is not there changes nothing."""
    marks: list[LoggedMark] = []
    for command in commands:
        number, _, label = command.text.partition(":")
        place = int(number) - 1 if number.strip().isdecimal() else -1
        if command.kind is CommandKind.MARK:
            marks.append(LoggedMark(len(marks) + 1, command.t_ns, command.text))
        elif not 0 <= place < len(marks):
            continue
        elif command.kind is CommandKind.LABEL:
            marks[place] = replace(marks[place], label=label.strip())
        elif command.kind is CommandKind.WITHDRAW:
            marks[place] = replace(marks[place], withdrawn=True)
    return tuple(marks)
