"""The operator's marks: set at once, named later, taken back but never gone. Without Qt."""

from __future__ import annotations

from dataclasses import dataclass, replace

from posewatch.core.records import Command, CommandKind


@dataclass(frozen=True, slots=True)
class Mark:
    """One mark. number counts from 1 in the order of the log.

    t_ns: session time, as near as the window knows it until the log has told. own: set by a key
    here; others, such as the consent, are not taken back. told: it has come back from the log.
    """

    number: int
    t_ns: int
    label: str = ""
    own: bool = True
    told: bool = False
    withdrawn: bool = False


Marks = tuple[Mark, ...]


def press(marks: Marks, t_ns: int) -> Marks:
    """Set a mark now, before the log has told its time."""
    return (*marks, Mark(len(marks) + 1, t_ns))


def told(marks: Marks, command: Command) -> Marks:
    """Take in what came back from the log; a mark without a label is one that was pressed."""
    if command.kind is not CommandKind.MARK:
        return marks
    for index, mark in enumerate(marks):
        if mark.own and not mark.told and not command.text:
            known = replace(mark, t_ns=command.t_ns, told=True)
            return (*marks[:index], known, *marks[index + 1 :])
    mark = Mark(len(marks) + 1, command.t_ns, command.text, own=not command.text, told=True)
    return (*marks, mark)


def last_own(marks: Marks) -> Mark | None:
    """Return the last mark that can be named or taken back, None = there is none."""
    return next((mark for mark in reversed(marks) if mark.own and not mark.withdrawn), None)


def withdraw(marks: Marks, number: int) -> Marks:
    """Take a mark back; it stays in the list."""
    return tuple(replace(m, withdrawn=True) if m.number == number else m for m in marks)


def name(marks: Marks, number: int, label: str) -> Marks:
    """Give a mark its label; its time stays."""
    return tuple(replace(m, label=label) if m.number == number else m for m in marks)
