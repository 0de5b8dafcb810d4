"""Set-up's list of steps: numbered, each with a mark that says whether it is done."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtCore import QSize
from PySide6.QtWidgets import QFrame, QPushButton, QVBoxLayout

from posewatch.core.needs import Readiness
from posewatch.ui.readiness_marks import mark_icon
from posewatch.ui.setup_parts import button
from posewatch.ui.setup_view import TITLES, Step, StepLine
from posewatch.ui.theme import Theme


class StepRail(QFrame):
    """Shows the steps; START and VISIT are none of them. go: is called with a step to go to."""

    def __init__(self, go: Callable[[Step], object]) -> None:
        super().__init__()
        self.setObjectName("steps")
        self._steps: dict[Step, QPushButton] = {}
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 12, 0, 12)
        for step in TITLES:
            if step not in (Step.START, Step.VISIT):
                self._steps[step] = self._button(step, go)
                column.addWidget(self._steps[step])
        column.addStretch(1)

    def tell(self, lines: Sequence[StepLine], theme: Theme) -> None:
        """Show where one is, and what is done."""
        for one in lines:
            made = self._steps[one.step]
            made.setChecked(one.is_here)
            level = Readiness.UNCHECKED if one.why_not else Readiness.READY
            made.setIcon(mark_icon(level, theme, made.iconSize().width()))
            made.setAccessibleDescription(one.why_not or "done")
            made.setToolTip(one.why_not)

    def set_mark_px(self, px: int) -> None:
        """Let the marks have a size."""
        for one in self._steps.values():
            one.setIconSize(QSize(px, px))

    def _button(self, step: Step, go: Callable[[Step], object]) -> QPushButton:
        made = button(f"&{int(step)}  {TITLES[step]}", lambda: go(step), "step")
        made.setCheckable(True)
        return made
