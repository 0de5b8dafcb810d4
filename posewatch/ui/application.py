"""All windows of one sitting, and the one timer that tells them everything.

Nothing else here keeps time. A window that fails is told of in the log and never stops a watch.
"""

from __future__ import annotations

import logging
import signal
import sys
from collections.abc import Callable
from dataclasses import replace
from functools import partial

from PySide6.QtCore import QTimer
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QApplication, QWidget

from posewatch.core.capture import Subject
from posewatch.runtime import clock
from posewatch.runtime.engine import Shown
from posewatch.store.remembered import Memory
from posewatch.studio import Studio
from posewatch.ui.display import require_display
from posewatch.ui.fitter_window import FitterWindow
from posewatch.ui.keys import Act
from posewatch.ui.operator_window import OperatorWindow
from posewatch.ui.palette import apply_theme
from posewatch.ui.rider_window import RiderWindow
from posewatch.ui.scene import Scene, Switches
from posewatch.ui.scenes import SceneMaker
from posewatch.ui.setup_choices import CameraChoice
from posewatch.ui.setup_desk import Desk
from posewatch.ui.setup_window import SetupWindow
from posewatch.ui.switchboard import Switchboard
from posewatch.ui.theme import Theme
from posewatch.ui.visit_ride import Rides, Visiting
from posewatch.ui.voice import Voice
from posewatch.ui.voice_view import VoiceMemory, voice_view
from posewatch.visits.visit import Visit

#: A scene is made as soon as there is a new moment, or after so long without one, but not more
#: often than SCENE_LEAST_MS.
POLL_MS = 33
SCENE_LEAST_MS = 15
#: How often it is looked whether there is a new moment: a picture must not wait for the next poll.
LOOK_MS = 5

logger = logging.getLogger(__name__)


class Windows:
    """The windows of one studio.

    Args:
        studio: what they show, and act on.
        visit: that is to be conducted, open; None = none, or one that set-up begins. Whichever it
            is, it is closed at the end.
        memory: the choices of last time.
        voice: plays what the rider hears.
    """

    def __init__(
        self, studio: Studio, memory: Memory, voice: Voice, visit: Visiting | None = None
    ) -> None:
        self.studio, self.memory, self._voice = studio, memory, voice
        self._switchboard = Switchboard(memory)
        self._scenes = SceneMaker(studio)
        self._heard = VoiceMemory()
        self._theme: Theme | None = None
        self._failed: set[str] = set()
        self._on_end: Callable[[], None] = lambda: None
        self._ended = False
        self._polled_ns = 0
        self._shown: Shown | None = None
        shared = self._shared_acts()
        self.rider = RiderWindow({**shared, Act.CLOSE: self.hide_rider})
        self.operator = OperatorWindow(studio, shared, self.end)
        self.fitter = FitterWindow(studio, {**shared, Act.CLOSE: self._leave_fitter})
        desk = Desk(studio, memory, partial(camera_choices, studio), visit=visit)
        self.setup = SetupWindow(desk, shared)
        self.setup.begin_wanted.connect(self._begin)
        self.setup.fitter_wanted.connect(self._open_fitter)
        self._timer = QTimer()
        self._timer.setInterval(LOOK_MS)
        self._timer.timeout.connect(self.look)

    @property
    def switches(self) -> Switches:
        """What is switched now."""
        return self._switchboard.switches

    @property
    def is_polling(self) -> bool:
        """Whether the timer runs."""
        return self._timer.isActive()

    def start(self, on_end: Callable[[], None], polls: bool = True) -> None:
        """Open the first window: set-up, or a watch where all is chosen.

        on_end: is called when all is closed. polls: by its own timer, else :meth:`poll` is called.
        """
        self._on_end = on_end
        chosen, visiting = self.studio.chosen, self.setup.desk.visits.visiting
        has_target = chosen.target is not None or visiting is not None
        has_source = chosen.source is not None or (visiting is not None and visiting.rides)
        if has_source and has_target:
            self._begin(chosen.gaps)
        else:
            _fill_screen(self.setup)
        if polls:
            self._timer.start()

    def look(self) -> None:
        """Poll if there is a new moment, or none was for a while."""
        since_ms = (clock.monotonic_ns() - self._polled_ns) / 1e6
        is_new = self.studio.post.shown is not self._shown
        if since_ms >= (SCENE_LEAST_MS if is_new else POLL_MS):
            self.poll()

    def poll(self) -> None:
        """Tell every open window how things stand."""
        self._polled_ns, self._shown = clock.monotonic_ns(), self.studio.post.shown
        self._switchboard.follow(self.studio.chosen.target, self._voice.no_sound)
        switches = self._switchboard.switches
        if switches.theme is not self._theme:
            self._theme = switches.theme
            app = QApplication.instance()
            if isinstance(app, QApplication):
                apply_theme(app, switches.theme)
        scene = self._scenes.scene(switches, clock.monotonic_ns())
        desk = self.operator.visit.desk
        if desk is not None:
            desk.follow(scene)
            scene = replace(scene, reset=desk.reset)
        for window in (self.operator, self.rider, self.setup, self.fitter):
            if window.isVisible():
                self._guarded(type(window).__name__, partial(window.show_scene, scene))
        self._guarded("sound", partial(self._sound, scene))
        if not self._ended and not any(one.isVisible() for one in self._leading()):
            self.end()

    def end(self) -> None:
        """Close everything; what is under way ends first. Ending twice is harmless."""
        if self._ended:
            return
        self._ended = True
        self._timer.stop()
        if self.rider.isVisible():
            self.memory.keep(screen=self.rider.screen_name)
        if not self.studio.close():
            logger.warning("what was under way did not end in time")
        if self.operator.visit.desk is not None:
            self.operator.visit.desk.close()
        self.setup.desk.visits.close()
        self._voice.close()
        for window in (*self._leading(), self.rider):
            window.hide()
        self._on_end()

    def hide_rider(self) -> None:
        """Close the rider's window; the operator's key opens it again."""
        self.memory.keep(screen=self.rider.screen_name)
        self.rider.hide()

    def _leading(self) -> tuple[QWidget, ...]:
        """Return the windows without which nobody could act."""
        return (self.operator, self.setup, self.fitter)

    def _shared_acts(self) -> dict[Act, Callable[[], None]]:
        board = self._switchboard
        return {
            Act.CUES: board.toggle_cues,
            Act.SOUND: board.toggle_sound,
            Act.SPEECH: board.toggle_speech,
            Act.THEME: board.toggle_theme,
            Act.DIMMER: partial(board.brighten, -1),
            Act.BRIGHTER: partial(board.brighten, 1),
            Act.RIDER_SCREEN: lambda: self.rider.to_next_screen(),
            Act.RIDER_FULL: self._toggle_rider,
        }

    def _begin(self, gaps: str) -> None:
        """Leave set-up and watch."""
        self.studio.choose(gaps=gaps)
        self.setup.hide()
        _fill_screen(self.operator)
        if len(QGuiApplication.screens()) > 1:
            self._show_rider()
        visiting = self.setup.desk.visits.visiting
        if visiting is None:
            self.studio.watch()
        else:
            self.operator.visit.open(visiting)

    def _show_rider(self) -> None:
        """Open the rider's window: where it was last, or on a screen that has no other window."""
        here = self.operator.screen().name()
        others = [s.name() for s in QGuiApplication.screens() if s.name() != here]
        wished = [name for name in (self.memory.choices.screen, *others) if name]
        next((name for name in wished if self.rider.move_to_screen(name)), None)
        self.rider.fill_screen()

    def _toggle_rider(self) -> None:
        """Open the rider's window; on a screen of its own, fill it or not; else close it again."""
        if not self.rider.isVisible():
            self._show_rider()
        elif len(QGuiApplication.screens()) > 1:
            self.rider.toggle_full_screen()
        else:
            self.hide_rider()

    def _open_fitter(self, subject: Subject) -> None:
        self.setup.hide()
        self.fitter.open_for(subject)
        _fill_screen(self.fitter)

    def _leave_fitter(self) -> None:
        """Go back to set-up, with the target that was kept."""
        self.fitter.desk.end_capture()
        self.fitter.hide()
        _fill_screen(self.setup)

    def _sound(self, scene: Scene) -> None:
        self._heard, sound = voice_view(scene, self._heard)
        if sound is not None:
            self._voice.play(sound)

    def _guarded(self, what: str, show: Callable[[], object]) -> None:
        """Show something; whatever goes wrong with it, the watch goes on."""
        try:
            show()
        except Exception:
            if what not in self._failed:
                self._failed.add(what)
                logger.exception("%s cannot be shown; the watch goes on", what)


def _fill_screen(window: QWidget) -> None:
    """Show a window as large as the screen lets it; not every system knows how to maximise."""
    window.resize(window.screen().availableSize())
    window.showMaximized()


def camera_choices(studio: Studio) -> list[CameraChoice]:
    """Return the cameras of this machine for the picker."""
    return [
        CameraChoice(one.stable_id, one.name, f"number {one.index}, {one.stable_id}", one.index)
        for one in studio.cameras()
    ]


def opened(studio: Studio, visit: Visiting | None = None) -> Windows:
    """Return a studio's windows, none of them shown yet."""
    return Windows(studio, Memory(), Voice(), visit)


def run_windows(
    studio: Studio, visit: Visit | None = None, number: int = 1, rides: Rides | None = None
) -> None:
    """Open the windows and stay until the last one is closed.

    Args:
        studio: what they show, and act on.
        visit: to be conducted, open; it is closed at the end. None = set-up may begin one.
        number: of the visit in the plan, where it has not begun.
        rides: what each trial is ridden with, None = what the studio has chosen; where that is
            nothing yet, set-up comes first.

    Raises:
        BadInput: the system lacks what windows need.
    """
    require_display()
    app = QApplication.instance() or QApplication(sys.argv[:1])
    assert isinstance(app, QApplication)
    app.setApplicationName("posewatch")
    app.setQuitOnLastWindowClosed(False)
    windows = opened(studio, None if visit is None else Visiting(visit, number, rides))
    # Python sees a Ctrl+C only when it runs: at the next poll.
    before = signal.signal(signal.SIGINT, lambda *_: windows.end())
    try:
        windows.start(app.quit)
        app.exec()
    finally:
        windows.end()
        signal.signal(signal.SIGINT, before)
