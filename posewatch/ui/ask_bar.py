"""A question in the window itself: nothing waits for its answer, and silence is the safe one."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QPushButton, QWidget


class AskBar(QFrame):
    """Asks whether to end a running watch; Escape goes on. Its buttons take no keyboard."""

    def __init__(self, over: QWidget, end: Callable[[], None], go_on: Callable[[], None]) -> None:
        super().__init__(over)
        self._over = over
        self.setObjectName("overlay")
        self.setAccessibleName("question")
        self.hide()
        self._words = QLabel()
        self._words.setObjectName("reason")
        self._end, self._go_on = QPushButton(), QPushButton("go on  (Esc)")
        self._go_on.setObjectName("safe")
        line = QHBoxLayout(self)
        line.setContentsMargins(20, 12, 20, 12)
        line.setSpacing(18)
        line.addWidget(self._words)
        for button, act in ((self._go_on, go_on), (self._end, end)):
            button.setFocusPolicy(Qt.FocusPolicy.NoFocus)
            button.clicked.connect(lambda _=False, act=act: act())
            line.addWidget(button)
        self._escape = QShortcut(QKeySequence("Escape"), self)
        self._escape.setAutoRepeat(False)
        self._escape.activated.connect(go_on)
        self._escape.setEnabled(False)

    def ask(self, words: str, end_words: str) -> None:
        """Ask; empty words take the question away."""
        if not words:
            self._escape.setEnabled(False)
            self.hide()
            return
        self._words.setText(words)
        self._end.setText(end_words)
        self._escape.setEnabled(True)
        self.show()
        self.place()

    def place(self) -> None:
        """Put it below the middle of what it is over."""
        self.adjustSize()
        box = self._over.rect()
        self.move((box.width() - self.width()) // 2, round(0.62 * box.height()))
        self.raise_()
