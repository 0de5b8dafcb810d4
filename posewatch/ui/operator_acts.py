"""What the operator's keys do to the studio, and what they do not do at once. Without Qt.

A job ends in its own time, so what follows on it waits; and what would end a running watch by the
way (closing the window or the camera) is asked back first.
"""

from __future__ import annotations

from collections.abc import Callable
from enum import StrEnum

from posewatch.core.records import CommandKind
from posewatch.errors import PosewatchError
from posewatch.runtime.engine import EngineState
from posewatch.studio import Doing, Studio
from posewatch.ui.keys import Act
from posewatch.ui.question import Question

#: A switch that bounces closes more than once within this.
BOUNCE_NS = 250_000_000


class Bounce:
    """Lets a key's or foot switch's press through once."""

    def __init__(self, now_ns: Callable[[], int]) -> None:
        self._now_ns = now_ns
        self._pressed_ns: dict[str, int] = {}

    def accepts(self, act: str) -> bool:
        """Tell whether a press of now is one of its own."""
        now_ns = self._now_ns()
        last_ns = self._pressed_ns.get(act)
        if last_ns is not None and now_ns - last_ns < BOUNCE_NS:
            return False
        self._pressed_ns[act] = now_ns
        return True


class Asked(StrEnum):
    """What was asked for while a watch runs."""

    CLOSE = "close"
    CAMERA = "close the camera"


class OperatorActs:
    """Acts on one studio. note: takes what is to be said to the operator.

    asked: what waits for an answer, None = nothing. closing: the window is to close as soon as
    nothing is under way.
    """

    def __init__(self, studio: Studio, note: Callable[[str], None]) -> None:
        self._studio = studio
        self._note = note
        self._then: Callable[[], None] | None = None
        self.asked: Asked | None = None
        self.closing = False

    def follow(self) -> None:
        """Do what waited for the job's end; call it at every poll."""
        if self._studio.doing is not Doing.WATCH:
            self.asked = None
        if self._then is not None and not self._studio.engine.is_busy:
            then, self._then = self._then, None
            self._try(then)

    @property
    def question(self) -> Question | None:
        """What is asked back before a running watch is ended by the way."""
        asked = self.asked
        if asked is None:
            return None
        words = f"A watch is running: end it and {asked}?"
        yes = f"end it and {asked}"
        return Question(words, yes, "go on", Act.END, self.confirm, self.go_on)

    @property
    def may_close(self) -> bool:
        """Whether the window was to close and may do so now."""
        return self.closing and not self._studio.engine.is_busy

    def begin(self) -> None:
        """Begin the watch; a preview ends first."""
        if self._studio.chosen.target is None:
            self._note("No target is chosen: choose one, then begin.")
        elif self._studio.doing is Doing.NOTHING:
            self._try(self._studio.watch)
        elif self._studio.doing is Doing.PREVIEW:
            self._then = self._studio.watch
            self._studio.end()
        elif self._studio.doing is Doing.CAPTURE:
            self._note("A target is being captured: end that first.")

    def end(self) -> None:
        """End the watch or capture under way."""
        if self.asked is not None:
            self.confirm()
        elif self._studio.doing in (Doing.WATCH, Doing.CAPTURE):
            self._studio.end()

    def camera(self) -> None:
        """Open the camera to look, or close it."""
        if self._studio.doing is Doing.WATCH:
            self.asked = Asked.CAMERA
        elif self._studio.doing is Doing.NOTHING:
            self._try(self._studio.look)
        elif self._studio.engine.state is EngineState.STOPPING:
            self._then = self._studio.look
        else:
            self._then = None
            self._studio.end()

    def pause(self, word: str) -> None:
        """Pause ("paused" or "rest"), or go on from the same."""
        if self._studio.doing is not Doing.WATCH:
            return
        if self._studio.paused == word:
            self._studio.say(CommandKind.RESUME)
        else:
            self._studio.say(CommandKind.PAUSE, word)

    def mark(self) -> bool:
        """Log a mark of now; False = there is nothing to mark."""
        if self._studio.doing is not Doing.WATCH:
            self._note("No watch is running: a mark would have nothing to belong to.")
            return False
        self._studio.say(CommandKind.MARK)
        return True

    def withdraw(self, number: int) -> bool:
        """Log that a mark is taken back; False = the log is closed."""
        if self._studio.doing is not Doing.WATCH:
            self._note("The watch has ended: its marks stay as they are.")
            return False
        self._studio.say(CommandKind.WITHDRAW, str(number))
        return True

    def name(self, number: int, label: str) -> bool:
        """Log a mark's label; False = the log is closed."""
        if self._studio.doing is not Doing.WATCH:
            self._note("The watch has ended: its marks stay as they are.")
            return False
        self._studio.say(CommandKind.LABEL, f"{number}: {label}")
        return True

    def close(self) -> None:
        """Close the window; a running watch is asked about first."""
        if self._studio.doing is Doing.WATCH:
            self.asked = Asked.CLOSE
            return
        self.closing, self._then = True, None
        self._studio.end()

    def confirm(self) -> None:
        """End the watch, as was asked for."""
        self.closing = self.asked is Asked.CLOSE
        self.asked = None
        self._studio.end()

    def go_on(self) -> None:
        """Let the watch go on."""
        self.asked = None

    def _try(self, act: Callable[[], None]) -> None:
        try:
            act()
        except PosewatchError as error:
            self._note(str(error))
        except RuntimeError as error:
            self._note(f"It cannot begin: {error}.")
