"""The operator's acts as buttons, each with its key; they take no keyboard."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QWidget

from posewatch.ui.keys import Act, first_key

#: In the order of a trial.
OF_A_TRIAL = (
    (Act.CAMERA, "camera"),
    (Act.BEGIN, "begin"),
    (Act.END, "end"),
    (Act.PAUSE, "pause"),
    (Act.REST, "rest"),
    (Act.MARK, "mark"),
    (Act.UNDO, "take mark back"),
    (Act.HELP, "keys"),
)
OF_SENSORS = ((Act.HOLD, "hold power"), (Act.ZERO, "zero offset"))


class ActButtons(QWidget):
    """A row of buttons. acts: what each does."""

    def __init__(
        self, buttons: Sequence[tuple[Act, str]], acts: Mapping[Act, Callable[[], None]]
    ) -> None:
        super().__init__()
        self._buttons: dict[Act, QPushButton] = {}
        line = QHBoxLayout(self)
        line.setContentsMargins(0, 0, 0, 0)
        for act, word in buttons:
            button = QPushButton(f"{word}  ({first_key(act)})")
            button.setFocusPolicy(Qt.FocusPolicy.NoFocus)
            button.setAccessibleName(str(act))
            button.setToolTip(str(act))
            button.clicked.connect(lambda _=False, act=act: acts[act]())
            line.addWidget(button)
            self._buttons[act] = button

    def enable(self, can: Mapping[Act, bool]) -> None:
        """Let the buttons be pressed that can be; those not named always can."""
        for act, button in self._buttons.items():
            button.setEnabled(can.get(act, True))

    def show_only(self, acts: Sequence[Act]) -> None:
        """Show the buttons of some acts."""
        for act, button in self._buttons.items():
            button.setVisible(act in acts)

    def rename(self, act: Act, word: str) -> None:
        """Give a button another word."""
        text = f"{word}  ({first_key(act)})"
        if self._buttons[act].text() != text:
            self._buttons[act].setText(text)
