"""The operator's marks as a log has them."""

from __future__ import annotations

from posewatch.core.marks import LoggedMark, logged_marks
from posewatch.core.records import Command, CommandKind


def test_marks_are_named_and_taken_back_and_never_gone() -> None:
    said = [
        Command(1, CommandKind.MARK),
        Command(2, CommandKind.PAUSE, "break"),
        Command(3, CommandKind.MARK, "consent"),
        Command(4, CommandKind.LABEL, "1: towel: wet"),
        Command(5, CommandKind.MARK),
        Command(6, CommandKind.WITHDRAW, "3"),
        Command(7, CommandKind.RESUME),
    ]
    assert logged_marks(said) == (
        LoggedMark(1, 1, "towel: wet"),
        LoggedMark(2, 3, "consent"),
        LoggedMark(3, 5, "", withdrawn=True),
    )


def test_words_about_a_mark_that_is_not_there_change_nothing() -> None:
    mark = Command(1, CommandKind.MARK, "a")
    for text in ("2: b", "0: b", "-1: b", "", "x", "1²"):
        for kind in (CommandKind.LABEL, CommandKind.WITHDRAW):
            assert logged_marks([mark, Command(2, kind, text)]) == (LoggedMark(1, 1, "a"),)
