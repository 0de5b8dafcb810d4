"""The rider's window: full screen on a screen of its own, read from the saddle.

It shows at most three things: the mark with its one line, the tray, and the numbers. It never
takes the keyboard from the operator.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import fields
from functools import lru_cache

from PySide6.QtCore import QRect, Qt
from PySide6.QtGui import QColor, QGuiApplication, QPainter, QPaintEvent, QResizeEvent, QScreen
from PySide6.QtWidgets import QWidget

from posewatch.ui import ways
from posewatch.ui.bead_tray import BeadTray
from posewatch.ui.big_text import BigText
from posewatch.ui.body_mark import BodyMark
from posewatch.ui.keys import Act, bind
from posewatch.ui.readings import NO_NUMBER, Number
from posewatch.ui.rider_view import RiderMemory, RiderView, rider_view
from posewatch.ui.scene import Scene
from posewatch.ui.theme import DARK, Theme

TITLE = "posewatch: rider"
NO_SOUND = "no sound"
#: Of numbers, and of words on what is painted orange, in any theme.
ON_ORANGE = DARK.ground


class RiderWindow(QWidget):
    """Shows scenes to the rider.

    acts: what its keys do besides moving to the next screen and full screen. alone: it is the only
    window and takes the keyboard; otherwise it never does.
    """

    def __init__(
        self, acts: Mapping[Act, Callable[[], None]] | None = None, alone: bool = False
    ) -> None:
        super().__init__()
        self.setWindowTitle(TITLE)
        self.setAccessibleName(TITLE)
        self.setAttribute(Qt.WidgetAttribute.WA_ShowWithoutActivating, not alone)
        self.setWindowFlag(Qt.WindowType.WindowDoesNotAcceptFocus, not alone)
        self.setCursor(Qt.CursorShape.BlankCursor)
        self.setMinimumSize(480, 360)
        self.resize(960, 540)
        self._memory = RiderMemory()
        self._view: RiderView | None = None
        self._theme = DARK
        self._mark, self._tray = BodyMark(self), BeadTray(self)
        self._words = BigText(ways.ALL_WORDS, self)
        self._numbers = tuple(
            (BigText(("888",), self), BigText(("of 888 rpm",), self)) for _ in range(2)
        )
        self._no_sound = BigText((NO_SOUND,), self)
        own = {Act.RIDER_SCREEN: self.to_next_screen, Act.RIDER_FULL: self.toggle_full_screen}
        bind(self, {**own, **(acts or {})})

    def show_scene(self, scene: Scene) -> None:
        """Take over what is shown now; what has not changed is not painted again."""
        self._memory, view = rider_view(scene, self._memory)
        theme = dimmed(scene.switches.theme, scene.switches.brightness)
        before, before_theme = self._view, self._theme
        if view == before and theme == before_theme:
            return
        self._view, self._theme = view, theme
        if theme != before_theme:
            self.update()
        self._mark.show_view(view, theme)
        self._tray.show_beads(view.beads, theme)
        self._words.show_text(view.face.words, theme.text, theme.ground)
        self._show_numbers(view.numbers, theme)
        self._no_sound.show_text(NO_SOUND, theme.faint, theme.ground)
        self._no_sound.setVisible(view.no_sound)
        if before is None or view.told != before.told:
            self.setAccessibleDescription(view.told)
        if before is None or len(view.numbers) != len(before.numbers):
            self._arrange()

    def move_to_screen(self, name: str) -> bool:
        """Move to the screen of that name, full screen if it was; False = there is none."""
        screen = next((one for one in QGuiApplication.screens() if one.name() == name), None)
        if screen is not None:
            self._move_to(screen)
        return screen is not None

    def to_next_screen(self) -> None:
        """Move to the next screen, round and round."""
        screens = QGuiApplication.screens()
        names = [one.name() for one in screens]
        here = names.index(self.screen_name) if self.screen_name in names else -1
        self._move_to(screens[(here + 1) % len(screens)])

    def toggle_full_screen(self) -> None:
        """Fill the screen, or be a window again."""
        self._fill(not self.isFullScreen())

    def fill_screen(self) -> None:
        """Open, and fill the screen."""
        self._fill(True)

    @property
    def screen_name(self) -> str:
        """Name of the screen that it is on, for finding it again."""
        return self.screen().name()

    def _move_to(self, screen: QScreen) -> None:
        # Window systems that do not let a program place its windows still fill the right screen
        # if the window has been shown on it before.
        full = self.isFullScreen()
        if full:
            self._fill(False)
        self.setScreen(screen)
        self.move(screen.availableGeometry().topLeft())
        self.show()
        if full:
            self._fill(True)

    def _fill(self, full: bool) -> None:
        # Qt's own showFullScreen asks for the keyboard besides.
        self.setWindowState(Qt.WindowState.WindowFullScreen if full else Qt.WindowState(0))
        self.show()

    def _show_numbers(self, numbers: tuple[Number, ...], theme: Theme) -> None:
        for place, (digits, unit) in enumerate(self._numbers):
            number = numbers[place] if place < len(numbers) else NO_NUMBER
            colour, ground = (ON_ORANGE, theme.off) if number.off else (theme.text, theme.ground)
            digits.show_text(number.text, colour, ground)
            unit.show_text(number.unit, theme.faint, theme.ground)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Arrange anew."""
        self._arrange()
        super().resizeEvent(event)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint what lies between the parts."""
        painter = QPainter(self)
        painter.fillRect(event.rect(), QColor(self._theme.ground))
        painter.end()

    def _arrange(self) -> None:
        """Give each part its place; sizes are shares of the height, of the width where less."""
        wide, high = self.width(), self.height()
        unit = min(wide, high)
        edge = round(0.02 * unit)
        inside = wide - 2 * edge
        digits, label = round(0.2 * unit), round(0.045 * unit)
        column = min(round(0.52 * unit), inside // 2)
        n = 1 if self._view is None else max(1, len(self._view.numbers))
        row = high - digits - label - 2 * edge
        tray = QRect(edge, row, inside - n * column, high - row - edge)
        if wide < high:
            # Upright, there is room above the numbers and not beside them.
            tray = QRect(edge, row - digits - edge, inside, digits)
        words_high = round(0.12 * unit)
        words = QRect(edge, tray.top() - words_high, inside, words_high)
        self._mark.setGeometry(edge, edge, inside, words.top() - edge)
        self._words.setGeometry(words)
        self._tray.setGeometry(tray)
        for place, (number, unit_of_it) in enumerate(self._numbers):
            left = wide - edge - (n - place) * column
            number.setGeometry(left, row + edge, column - edge, digits)
            unit_of_it.setGeometry(left, row + digits + edge + edge // 2, column - edge, label)
        badge = round(0.25 * unit)
        self._no_sound.setGeometry(wide - edge - badge, edge, badge, label)
        self._no_sound.raise_()


@lru_cache
def dimmed(theme: Theme, brightness: float) -> Theme:
    """Return a theme with every colour as bright as that share."""

    def dim(colour: str) -> str:
        full = QColor(colour)
        parts = (full.red(), full.green(), full.blue())
        return QColor(*(round(brightness * part) for part in parts)).name().upper()

    names = [one.name for one in fields(theme) if one.name != "name"]
    return Theme(theme.name, **{name: dim(getattr(theme, name)) for name in names})
