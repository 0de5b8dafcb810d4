"""Commands in the order of their keys, on the session's clock."""

from __future__ import annotations

import pytest

from posewatch.core.records import NS_PER_S, Command, CommandKind
from posewatch.runtime import controls
from posewatch.runtime.controls import Controls


class Clock:
    """A monotonic clock that is set by hand."""

    def __init__(self) -> None:
        self.t_ns = 100 * NS_PER_S

    def monotonic_ns(self) -> int:
        return self.t_ns


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    made = Clock()
    monkeypatch.setattr(controls, "clock", made)
    return made


def test_a_command_has_the_time_of_its_key(clock: Clock) -> None:
    said = Controls()
    said.say(CommandKind.MARK, "shifted")
    clock.t_ns += NS_PER_S // 10
    said.say(CommandKind.PAUSE, "rest")
    clock.t_ns += NS_PER_S // 10
    assert said.taken(0, 5 * NS_PER_S) == [
        Command(48 * NS_PER_S // 10, CommandKind.MARK, "shifted"),
        Command(49 * NS_PER_S // 10, CommandKind.PAUSE, "rest"),
    ]
    assert said.taken(0, 6 * NS_PER_S) == []


def test_no_command_comes_before_what_was_consumed_already(clock: Clock) -> None:
    said = Controls()
    said.say(CommandKind.MARK)
    clock.t_ns += NS_PER_S
    said.say(CommandKind.WITHDRAW)
    times = [one.t_ns for one in said.taken(9 * NS_PER_S, 9 * NS_PER_S + 5)]
    assert times == [9 * NS_PER_S, 9 * NS_PER_S + 5]
