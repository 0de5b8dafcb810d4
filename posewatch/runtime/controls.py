"""What people at the keys say, on its way to the thread that watches."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

from posewatch.core.records import Command, CommandKind
from posewatch.runtime import clock


@dataclass(frozen=True, slots=True)
class Pressed:
    """A command and when its key was pressed, on the monotonic clock."""

    monotonic_ns: int
    kind: CommandKind
    text: str


class Controls:
    """Commands in the order of their keys; said by one thread, taken by another."""

    def __init__(self) -> None:
        self._said: deque[Pressed] = deque()

    def say(self, kind: CommandKind, text: str = "") -> None:
        """Give a command, timed now."""
        self._said.append(Pressed(clock.monotonic_ns(), kind, text))

    def taken(self, t_ns: int, now_ns: int) -> list[Command]:
        """Take what was said, on the session's clock.

        Args:
            t_ns: session time of the last input; no command comes before it.
            now_ns: session time now.
        """
        commands = []
        while self._said:
            one = self._said.popleft()
            ago_ns = max(0, clock.monotonic_ns() - one.monotonic_ns)
            t_ns = max(t_ns, now_ns - ago_ns)
            commands.append(Command(t_ns, one.kind, one.text))
        return commands
