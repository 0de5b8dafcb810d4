"""The one table of keys, for windows, their help and README.

A foot switch or page-turner acts as a keyboard: Page Down and Page Up are bound for it. Space is
bound to nothing, so that a hand on the keyboard sets nothing off.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import QWidget


class Act(StrEnum):
    """What a key does."""

    CAMERA = "open or close the camera (the curtain)"
    BEGIN = "begin the trial; in a visit, do what is next"
    END = "end the trial, or a capture"
    PAUSE = "pause, and go on"
    REST = "rest: towel, drink, fan; and go on"
    MARK = "mark this moment"
    UNDO = "take the last mark, or change of a limit, back"
    CUES = "cues on or off"
    SOUND = "sound on or off"
    SPEECH = "spoken words on or off"
    RIDER_SCREEN = "rider's window to the next screen"
    RIDER_FULL = "rider's window full screen or not"
    HOLD = "let the trainer hold the power, or let it go"
    ZERO = "take the power meter's zero offset"
    SKIP = "visit: leave something out, with a reason"
    REPEAT = "visit: ride the last trial again"
    RATE = "visit: rate the last trial"
    NOTE = "visit: write a note"
    GAUGE = "visit: hardness of an item"
    FIGURES = "visit: other figures of an item"
    LINE_UP = "visit: the line of the check list before"
    LINE_DOWN = "visit: the line of the check list after"
    YES = "yes to what is asked (Escape: no)"
    THEME = "dark or light"
    DIMMER = "dimmer"
    BRIGHTER = "brighter"
    HELP = "show these keys"
    CLOSE = "close"


@dataclass(frozen=True, slots=True)
class Key:
    """Keys of one act, as Qt writes them; the first is the one shown."""

    act: Act
    keys: tuple[str, ...]


KEYS = (
    Key(Act.CAMERA, ("O",)),
    Key(Act.BEGIN, ("Return", "Enter")),
    Key(Act.END, ("Ctrl+Return", "Ctrl+Enter")),
    Key(Act.PAUSE, ("P",)),
    Key(Act.REST, ("B", "PgUp")),
    Key(Act.MARK, ("M", "PgDown", "F13")),
    Key(Act.UNDO, ("Ctrl+Z",)),
    Key(Act.CUES, ("C",)),
    Key(Act.SOUND, ("S",)),
    Key(Act.SPEECH, ("W",)),
    Key(Act.RIDER_SCREEN, ("N",)),
    Key(Act.RIDER_FULL, ("F", "F11")),
    Key(Act.HOLD, ("H",)),
    Key(Act.ZERO, ("Z",)),
    Key(Act.SKIP, ("K",)),
    Key(Act.REPEAT, ("R",)),
    Key(Act.RATE, ("A",)),
    Key(Act.NOTE, ("T",)),
    Key(Act.GAUGE, ("G",)),
    Key(Act.FIGURES, ("I",)),
    Key(Act.LINE_UP, ("Up",)),
    Key(Act.LINE_DOWN, ("Down",)),
    Key(Act.YES, ("Y",)),
    Key(Act.THEME, ("L",)),
    Key(Act.DIMMER, ("-",)),
    Key(Act.BRIGHTER, ("+", "=")),
    Key(Act.HELP, ("F1", "?")),
    Key(Act.CLOSE, ("Ctrl+Q",)),
)


def bind(window: QWidget, acts: Mapping[Act, Callable[[], None]]) -> list[QShortcut]:
    """Bind a window's keys; they work wherever in the window the focus is.

    A key that is held down acts once.
    """
    shortcuts = []
    for key in KEYS:
        if key.act not in acts:
            continue
        for text in key.keys:
            shortcut = QShortcut(QKeySequence(text), window)
            shortcut.setContext(Qt.ShortcutContext.WindowShortcut)
            shortcut.setAutoRepeat(False)
            shortcut.activated.connect(acts[key.act])
            shortcuts.append(shortcut)
    return shortcuts


def first_key(act: Act) -> str:
    """Return the key that is shown for an act."""
    return next(key.keys[0] for key in KEYS if key.act is act)
