"""Marks: set at once, told by the log, named and taken back."""

from __future__ import annotations

from posewatch.core.records import NS_PER_S, Command, CommandKind
from posewatch.ui import marks_view
from posewatch.ui.marks_view import Mark


def from_log(t_s: float, text: str = "", kind: CommandKind = CommandKind.MARK) -> Command:
    return Command(round(t_s * NS_PER_S), kind, text)


def test_a_press_is_there_at_once_and_gets_the_logs_time() -> None:
    marks = marks_view.press(marks_view.press((), 10), 20)
    assert [(m.number, m.t_ns, m.told) for m in marks] == [(1, 10, False), (2, 20, False)]
    marks = marks_view.told(marks, from_log(1.0))
    assert [(m.t_ns, m.told) for m in marks] == [(NS_PER_S, True), (20, False)]
    marks = marks_view.told(marks, from_log(2.0))
    assert [m.t_ns for m in marks] == [NS_PER_S, 2 * NS_PER_S]


def test_consent_is_in_the_list_and_is_not_the_operators_to_take_back() -> None:
    marks = marks_view.told((), from_log(0.0, "consent: landmarks only"))
    assert marks == (Mark(1, 0, "consent: landmarks only", own=False, told=True),)
    assert marks_view.last_own(marks) is None
    marks = marks_view.press(marks, 5)
    assert marks_view.last_own(marks) is marks[1]


def test_consent_that_comes_after_a_press_does_not_take_its_place() -> None:
    marks = marks_view.told(marks_view.press((), 5), from_log(0.1, "consent"))
    assert [m.told for m in marks] == [False, True]
    marks = marks_view.told(marks, from_log(0.2))
    assert marks[0].t_ns == NS_PER_S // 5


def test_a_mark_that_was_set_elsewhere_is_added() -> None:
    marks = marks_view.told((), from_log(3.0))
    assert (marks[0].own, marks[0].t_ns) == (True, 3 * NS_PER_S)


def test_taking_back_keeps_the_mark_and_goes_backwards() -> None:
    marks = marks_view.press(marks_view.press((), 1), 2)
    last = marks_view.last_own(marks)
    assert last is not None
    marks = marks_view.withdraw(marks, last.number)
    assert [m.withdrawn for m in marks] == [False, True]
    last = marks_view.last_own(marks)
    assert last is not None
    assert last.number == 1
    assert marks_view.last_own(marks_view.withdraw(marks, 1)) is None


def test_a_label_keeps_number_and_time() -> None:
    marks = marks_view.name(marks_view.press((), 7), 1, "towel")
    assert marks == (Mark(1, 7, "towel"),)


def test_other_commands_are_no_marks() -> None:
    marks = marks_view.press((), 7)
    for kind in (CommandKind.PAUSE, CommandKind.RESUME, CommandKind.WITHDRAW, CommandKind.LABEL):
        assert marks_view.told(marks, from_log(8.0, kind=kind)) == marks
