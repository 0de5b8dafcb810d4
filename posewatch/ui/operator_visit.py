"""The visit's part of the operator's window: its desk, and which of its widgets is seen."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import partial

from PySide6.QtWidgets import QStackedWidget, QWidget

from posewatch.studio import Studio
from posewatch.ui.keys import Act
from posewatch.ui.messages_view import Note
from posewatch.ui.operator_buttons import ActButtons
from posewatch.ui.theme import DARK, Theme
from posewatch.ui.visit_desk import VisitDesk
from posewatch.ui.visit_panel import VisitBoard, VisitStrip
from posewatch.ui.visit_ride import Visiting
from posewatch.ui.visit_view import Next, step_of

NO_VISIT = "No visit is under way: one is begun in set-up."


class OperatorVisit:
    """Shows and serves the visit under way. desk: None = there is none.

    strip: above all else. stack: the board between trials and while something is typed, else what
    is seen of a watch.
    """

    def __init__(self, studio: Studio, note: Note, now_ns: Callable[[], int]) -> None:
        self._studio, self._note, self._now_ns = studio, note, now_ns
        self.desk: VisitDesk | None = None
        self._theme = DARK
        self._shown: object = None

    def build(
        self,
        watched: QWidget,
        reason: QWidget,
        served: Mapping[Act, Callable[[], None]],
        buttons: ActButtons,
    ) -> None:
        """Make the widgets. watched, reason: what is seen of a watch. buttons: of the window."""
        self._reason, self._buttons = reason, buttons
        self.strip = VisitStrip()
        self.strip.hide()
        self._board = VisitBoard(served, self._keep, self._leave)
        self._watched = watched
        self.stack = QStackedWidget()
        self.stack.addWidget(watched)
        self.stack.addWidget(self._board)

    def open(self, visiting: Visiting) -> VisitDesk:
        """Conduct a visit from here on."""
        self.desk = VisitDesk(visiting, self._studio, self._note, self._now_ns)
        return self.desk

    def acts(self) -> dict[Act, Callable[[], object]]:
        """Return what the visit's keys do."""
        return {
            Act.SKIP: partial(self._of_visit, lambda desk: desk.skip()),
            Act.REPEAT: partial(self._of_visit, lambda desk: desk.repeat()),
            Act.RATE: partial(self._of_visit, lambda desk: desk.rate()),
            Act.NOTE: partial(self._of_visit, lambda desk: desk.write_note()),
            Act.GAUGE: partial(self._of_visit, lambda desk: desk.gauge()),
            Act.FIGURES: partial(self._of_visit, lambda desk: desk.facts()),
            Act.LINE_UP: partial(self._move, -1),
            Act.LINE_DOWN: partial(self._move, 1),
        }

    def show(self, theme: Theme) -> None:
        """Show how the visit stands; where that is as before, nothing is done."""
        desk, self._theme = self.desk, theme
        if desk is None or (desk.now, desk.form, theme) == self._shown:
            return
        self._shown = (desk.now, desk.form, theme)
        self.strip.show()
        self._buttons.rename(Act.BEGIN, "next")
        self.strip.show_now(desk.now)
        rides = desk.visit.state.run is not None
        # Why strokes do not count in the reset is said by the strip.
        self._reason.setVisible(rides and step_of(desk.now).next is not Next.RESET)
        seen = self._watched if rides and desk.form is None else self._board
        if self.stack.currentWidget() is not seen:
            self.stack.setCurrentWidget(seen)
        self._board.show_now(desk.now, desk.form, theme)

    def _of_visit(self, do: Callable[[VisitDesk], object]) -> None:
        if self.desk is None:
            self._note(NO_VISIT)
        else:
            do(self.desk)

    def _move(self, lines: int) -> None:
        if self.desk is not None:
            self.desk.move(lines)

    def _keep(self, texts: Sequence[str]) -> str:
        if self.desk is None:
            return ""
        problem = self.desk.keep(texts)
        self.show(self._theme)
        return problem

    def _leave(self) -> None:
        if self.desk is not None:
            self.desk.leave()
            self.show(self._theme)
