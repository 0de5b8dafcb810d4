"""The strip of messages: they stay until they are read."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtGui import QColor
from PySide6.QtWidgets import QHBoxLayout, QListWidget, QListWidgetItem, QPushButton, QWidget

from posewatch.ui.health_view import SIGNS, Level
from posewatch.ui.messages_view import Messages, unread
from posewatch.ui.theme import DARK, Theme

NOTHING = "no messages"


class MessageStrip(QWidget):
    """Shows unread messages, newest first. read: is called when people have read them."""

    def __init__(self, read: Callable[[], None]) -> None:
        super().__init__()
        self._messages: Messages = ()
        self._theme = DARK
        self._list = QListWidget()
        self._list.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._list.setSelectionMode(QListWidget.SelectionMode.NoSelection)
        self._list.setAccessibleName("messages, newest first")
        self._list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._list.setWordWrap(True)
        self._button = QPushButton()
        self._button.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._button.clicked.connect(lambda: read())
        line = QHBoxLayout(self)
        line.setContentsMargins(0, 0, 0, 0)
        line.addWidget(self._list, 1)
        line.addWidget(self._button, 0, Qt.AlignmentFlag.AlignTop)
        self._show()

    def show_messages(self, messages: Messages, theme: Theme) -> None:
        """Show what waits to be read."""
        if messages is self._messages and theme is self._theme:
            return
        self._messages, self._theme = messages, theme
        self._show()

    def _show(self) -> None:
        waiting = unread(self._messages)
        self._list.clear()
        for message in waiting:
            sign = SIGNS[message.level]
            item = QListWidgetItem(f"{sign} {message.line}" if sign else message.line)
            item.setToolTip(message.line)
            if message.level is Level.FAULT:
                item.setForeground(QColor(self._theme.fault))
            self._list.addItem(item)
        if not waiting:
            item = QListWidgetItem(NOTHING)
            item.setForeground(QColor(self._theme.faint))
            self._list.addItem(item)
        self._button.setText(f"read ({len(waiting)})" if waiting else "read")
        self._button.setEnabled(bool(waiting))
