"""The trainer that holds the planned power, at the operator's keys. Without Qt.

Nothing is held before the operator asks for it and confirms the raise; one key lets go at once.
"""

from __future__ import annotations

from concurrent.futures import CancelledError, Future

from posewatch.core.trainer_state import ControlState, Stage
from posewatch.studio import Doing, Studio
from posewatch.ui.health_view import Item, Level
from posewatch.ui.messages_view import Note
from posewatch.ui.question import Question

NO_TRAINER = "No trainer is to hold the power: that is chosen at set-up, with the sensors."
NO_WATCH = "No trial is running: begin it, then let the trainer hold the power."


class TrainerActs:
    """Acts on one studio's trainer. note: takes what is to be said to the operator."""

    def __init__(self, studio: Studio, note: Note) -> None:
        self._studio = studio
        self._note = note
        self._asked: Future[ControlState] | None = None
        self._fault = ""

    @property
    def is_chosen(self) -> bool:
        """Whether a trainer is to hold the power."""
        return self._studio.chosen.trainer is not None

    @property
    def state(self) -> ControlState:
        """How it is held now."""
        trainer, live = self._studio.chosen.trainer, self._studio.live
        if trainer is None or live is None:
            return ControlState()
        return live.hold_state(trainer)

    @property
    def is_under_way(self) -> bool:
        """Whether anything is held, or waits: what the key would end."""
        state = self.state
        return state.stage is not Stage.OFF or state.unconfirmed_w is not None

    @property
    def question(self) -> Question | None:
        """The raise that waits to be confirmed, None = none does."""
        state = self.state
        if state.unconfirmed_w is None or self._studio.doing is not Doing.WATCH:
            return None
        watts = state.unconfirmed_w
        yes = f"raise to {watts} W"
        return Question(
            state.text, yes, "not now", on_yes=lambda: self._hold(watts, True), on_no=self._release
        )

    def toggle(self) -> None:
        """Ask for the planned power; whatever is held or under way is let go instead."""
        watts = self._studio.chosen.plan.power_w
        if self.is_under_way:
            self._release()
        elif not self.is_chosen or watts is None:
            self._note(NO_TRAINER)
        elif self._studio.doing is not Doing.WATCH or self._studio.live is None:
            self._note(NO_WATCH)
        elif self._asked is None:
            self._hold(round(watts), False)

    def follow(self) -> None:
        """Say what came of what was asked; call it at every poll."""
        self._follow_fault()
        if self._asked is None or not self._asked.done():
            return
        asked, self._asked = self._asked, None
        try:
            state = asked.result()
        except (Exception, CancelledError) as error:
            why = str(error).rstrip(".") or "it was broken off"
            self._note(f"The trainer is not held: {why}.")
            return
        if state.stage is Stage.OFF and state.unconfirmed_w is None and not state.fault:
            self._note(state.text)  # whatever else happens is told by the log

    def _follow_fault(self) -> None:
        """Say that it was not let go as it should; in a watch, the log tells it."""
        state = self.state
        fault = state.text if state.fault else ""
        if fault and fault != self._fault and self._studio.doing is not Doing.WATCH:
            self._note(fault, Level.FAULT)
        self._fault = fault

    def item(self) -> Item | None:
        """Return how it is held, for the strip of sensors; None = no trainer is to hold."""
        if not self.is_chosen:
            return None
        state = self.state
        if state.stage is Stage.HOLDING:
            return Item("trainer:", f"holds {state.held_w} W")
        if state.stage is not Stage.OFF:
            return Item("trainer:", str(state.stage))
        if state.fault:
            return Item("trainer:", "let go", Level.FAULT, "see messages")
        is_due = self._studio.doing is Doing.WATCH
        return Item("trainer:", "not held", Level.WARN if is_due else Level.WELL)

    def _hold(self, watts: int, confirmed: bool) -> None:
        trainer, live = self._studio.chosen.trainer, self._studio.live
        if trainer is not None and live is not None:
            cadence_rpm = self._studio.chosen.plan.cadence_rpm
            self._asked = live.hold_power(trainer, watts, confirmed, cadence_rpm)

    def _release(self) -> None:
        trainer, live = self._studio.chosen.trainer, self._studio.live
        if trainer is not None and live is not None:
            self._asked = None
            live.release(trainer)
