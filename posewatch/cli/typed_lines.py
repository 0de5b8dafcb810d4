"""Lines typed while something else goes on: taken without waiting for them."""

from __future__ import annotations

import sys


class TypedLines:
    """What is typed at the terminal meanwhile; nothing where there is none."""

    def __init__(self) -> None:
        self._begun = ""

    def taken(self) -> str | None:
        """Return the next whole line that was typed, None = there is none yet."""
        if not sys.stdin.isatty():
            return None
        if sys.platform == "win32":
            import msvcrt

            while msvcrt.kbhit():
                letter = msvcrt.getwche()
                if letter in "\r\n":
                    line, self._begun = self._begun, ""
                    return line
                self._begun += letter
            return None
        import select

        ready, _, _ = select.select([sys.stdin], [], [], 0.0)
        return sys.stdin.readline().rstrip("\n") if ready else None


def forget_typed() -> None:
    """Drop what was typed while nothing was asked, so that it answers no later question."""
    if not sys.stdin.isatty():
        return
    if sys.platform == "win32":
        import msvcrt

        while msvcrt.kbhit():
            msvcrt.getwch()
        return
    import termios

    termios.tcflush(sys.stdin, termios.TCIFLUSH)
