"""A question in the window itself: nothing waits for its answer, and silence is the safe one."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QPushButton

from posewatch.ui.keys import first_key
from posewatch.ui.question import Question


class AskBar(QFrame):
    """Asks a question, hidden while there is none; Escape answers no.

    It takes room of its own and hides nothing, and its buttons take no keyboard.
    """

    def __init__(self) -> None:
        super().__init__()
        self._question: Question | None = None
        self.setObjectName("overlay")
        self.setAccessibleName("question")
        self.hide()
        self._words = QLabel()
        self._words.setObjectName("question")
        self._words.setWordWrap(True)
        self._yes, self._no = QPushButton(), QPushButton()
        self._no.setObjectName("safe")
        line = QHBoxLayout(self)
        line.setContentsMargins(14, 8, 14, 8)
        line.setSpacing(18)
        line.addWidget(self._words, 1)
        for button, act in ((self._no, self._decline), (self._yes, self._accept)):
            button.setFocusPolicy(Qt.FocusPolicy.NoFocus)
            button.clicked.connect(lambda _=False, act=act: act())
            line.addWidget(button)
        self._escape = QShortcut(QKeySequence("Escape"), self)
        self._escape.setAutoRepeat(False)
        self._escape.activated.connect(self._decline)
        self._escape.setEnabled(False)

    def ask(self, question: Question | None) -> None:
        """Ask; None takes the question away."""
        before, self._question = self._question, question
        if question == before:
            return
        self._escape.setEnabled(question is not None)
        self.setAccessibleDescription("" if question is None else question.words)
        if question is not None:
            self._words.setText(question.words)
            self._yes.setText(f"{question.yes}  ({first_key(question.key)})")
            self._no.setText(f"{question.no}  (Esc)")
        self.setVisible(question is not None)

    def _decline(self) -> None:
        if self._question is not None:
            self._question.on_no()

    def _accept(self) -> None:
        if self._question is not None:
            self._question.on_yes()
