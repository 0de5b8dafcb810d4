"""The set-up window: numbered steps, one action each, the picture beside them."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QCloseEvent, QHideEvent, QResizeEvent
from PySide6.QtWidgets import (
    QHBoxLayout,
    QSizePolicy,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from posewatch.core.capture import Subject
from posewatch.runtime.engine import Shown
from posewatch.studio import Doing
from posewatch.ui import keys, setup_view
from posewatch.ui.keys import Act
from posewatch.ui.scene import Scene
from posewatch.ui.sensor_page import SensorPage
from posewatch.ui.setup_camera_pages import CameraPage, ProfilePage
from posewatch.ui.setup_consent_page import ConsentPage
from posewatch.ui.setup_desk import Desk
from posewatch.ui.setup_pages import Page, ReadyPage, StartPage, TargetPage
from posewatch.ui.setup_parts import button, label
from posewatch.ui.setup_rail import StepRail
from posewatch.ui.setup_side import SetupSide
from posewatch.ui.setup_style import style, text_px
from posewatch.ui.setup_view import TITLES, Action, Do, Step
from posewatch.ui.visit_page import VisitPage

#: Where the picture is beside the page, and how page and picture share the width.
SHARES = {Step.CAMERA: (1, 1), Step.READY: (7, 4)}
#: Below this, texts would be cut.
SMALLEST_PX = (960, 600)
LOCKED = "A trial or a capture is under way: set-up waits for its end."


class SetupWindow(QWidget):
    """Leads from a closed program to a trial that may begin.

    begin_wanted: the rider is ready and the camera is closed; with the line for the record of what
    was not ready. fitter_wanted: a target is to be captured, with its ``Subject``; the camera is
    closed.

    Args:
        desk: what set-up does.
        acts: what the program's keys do in every window.
        painted: is called at the end of the paint that shows a picture for the first time.
    """

    begin_wanted = Signal(str)
    fitter_wanted = Signal(object)

    def __init__(
        self,
        desk: Desk,
        acts: Mapping[Act, Callable[[], None]] | None = None,
        painted: Callable[[Shown], None] = lambda shown: None,
    ) -> None:
        super().__init__()
        self.setObjectName("setup")
        self.setWindowTitle("posewatch: set-up")
        self.desk = desk
        self._scene: Scene | None = None
        self._shown: object = None
        self._styled: object = None
        self._at: Step | None = None
        self.setMinimumSize(*SMALLEST_PX)
        self._pages: dict[Step, Page] = {
            Step.START: StartPage(desk, self._refresh),
            Step.CONSENT: ConsentPage(desk, self._refresh),
            Step.CAMERA: CameraPage(desk, self._refresh),
            Step.PROFILE: ProfilePage(desk, self._refresh),
            Step.TARGET: TargetPage(desk, self._refresh),
            Step.SENSORS: SensorPage(desk, self._refresh),
            Step.READY: ReadyPage(desk, self._refresh),
            Step.VISIT: VisitPage(desk, self._refresh),
        }
        self._side = SetupSide(desk, painted)
        self._lay_out()
        own = {Act.CAMERA: self.toggle_camera, Act.BEGIN: self._entered}
        keys.bind(self, {**(acts or {}), **own})

    def show_scene(self, scene: Scene) -> None:
        """Take over what there is to see now."""
        self.desk.follow(scene)
        self._scene = scene
        self._side.show_picture(scene)
        shown = (
            self.desk.setup,
            self.desk.note,
            self.desk.lines,
            self.desk.runs,
            self.desk.viewfinder.is_wanted,
            self.desk.sensors.rows,
            self.desk.sensors.card,
            self.desk.sensors.words,
            scene.doing,
            scene.state,
            scene.switches.theme,
        )
        if shown != self._shown:
            self._shown = shown
            self._refresh()

    def toggle_camera(self) -> None:
        """Draw the curtain, or open it."""
        self.desk.toggle_camera()
        self._refresh()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Let the text grow with the window."""
        super().resizeEvent(event)
        self._restyle()

    def closeEvent(self, event: QCloseEvent) -> None:
        """Close the camera with the window."""
        self.desk.viewfinder.close()
        super().closeEvent(event)

    def hideEvent(self, event: QHideEvent) -> None:
        """Let go of the sensors, unless the window is only minimised."""
        if not event.spontaneous():
            self.desk.sensors.close()
        super().hideEvent(event)

    def _lay_out(self) -> None:
        self._rail = StepRail(self._go)
        self._title = label("", "title")
        self._stack = QStackedWidget()
        # The widest page must not set how wide the others are.
        self._stack.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Expanding)
        for page in self._pages.values():
            self._stack.addWidget(page)
        self._note = label("", "note")
        self._back = button("&Back", self._go_back)
        self._why = label("", "faint")
        self._why.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        self._main = button("", self._act, "main")
        foot = QHBoxLayout()
        foot.addWidget(self._back)
        foot.addWidget(self._why, 1)
        foot.addWidget(self._main)
        middle = self._middle = QHBoxLayout()
        middle.setSpacing(20)
        middle.addWidget(self._stack)
        middle.addWidget(self._side)
        body = QVBoxLayout()
        body.setContentsMargins(24, 16, 24, 16)
        body.setSpacing(12)
        body.addWidget(self._title)
        body.addLayout(middle, 1)
        body.addWidget(self._note)
        body.addLayout(foot)
        whole = QHBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.setSpacing(0)
        whole.addWidget(self._rail)
        whole.addLayout(body, 1)

    def _go(self, step: Step) -> None:
        self.desk.go(step)
        self._refresh()

    def _go_back(self) -> None:
        self.desk.back()
        self._refresh()

    def _entered(self) -> None:
        """Return was pressed, wherever the keyboard is."""
        if not self._pages[self.desk.setup.step].entered() and self._main.isEnabled():
            self._act()

    def _act(self) -> None:
        action = self._action()
        if action is None or action.why_not:
            return
        desk, setup = self.desk, self.desk.setup
        if action.do is Do.BEGIN and (problem := desk.visits.open(setup)):
            desk.note = problem
        elif action.do is Do.BEGIN:
            gaps = desk.gaps()
            desk.leave(lambda: self.begin_wanted.emit(gaps))
        elif action.do is Do.CAPTURE:
            subject = Subject(setup.rider, setup.bike, setup.hands)
            desk.leave(lambda: self.fitter_wanted.emit(subject))
        elif action.do is Do.OPEN:
            desk.open_camera()
        elif action.do is Do.ASKED:
            desk.rider_asked()
        elif action.do in _LEADS_TO:
            desk.go(_LEADS_TO[action.do])
        else:
            self._pages[setup.step].act(action.do)
        self._refresh()

    def _action(self) -> Action | None:
        return (
            None if self._scene is None else self._pages[self.desk.setup.step].action(self._scene)
        )

    def _refresh(self) -> None:
        """Show what the desk has come to."""
        scene = self._scene
        if scene is None:
            return
        self._restyle()
        setup, theme = self.desk.setup, scene.switches.theme
        page = self._pages[setup.step]
        page.tell(scene)
        moved, self._at = self._at is not setup.step, setup.step
        self._stack.setCurrentWidget(page)
        self._title.setText(TITLES[setup.step])
        self._rail.setVisible(setup.step is not Step.START)
        self._back.setVisible(setup.step is not Step.START)
        self._rail.tell(setup_view.steps(setup, self.desk.runs, self.desk.lines), theme)
        self._tell_side(scene, setup.step)
        busy = scene.doing in (Doing.WATCH, Doing.CAPTURE)
        note = LOCKED if busy else self.desk.note or self.desk.why_ended(scene)
        self._note.setText(note)
        self._note.setVisible(bool(note))
        for part in (self._stack, self._rail, self._back):
            part.setEnabled(not busy)
        action = self._action()
        self._main.setVisible(action is not None)
        self._why.setText(action.why_not if action is not None else "")
        if action is not None:
            self._main.setText(action.label.replace("&", "&&"))
            self._main.setEnabled(not action.why_not and not busy)
        if moved:
            (page.first() or self._main).setFocus()

    def _tell_side(self, scene: Scene, step: Step) -> None:
        self._side.setVisible(step in SHARES)
        page_share, side_share = SHARES.get(step, (1, 0))
        self._middle.setStretch(0, page_share)
        self._middle.setStretch(1, side_share)
        self._side.tell(scene, step)

    def _restyle(self) -> None:
        if self._scene is None:
            return
        wanted = (self._scene.switches.theme, text_px(self.width(), self.height()))
        if wanted != self._styled:
            self._styled = wanted
            self.setStyleSheet(style(*wanted))
            self._rail.set_mark_px(wanted[1])


_LEADS_TO = {
    Do.READ: Step.CONSENT,
    Do.CHOOSE_CAMERA: Step.CAMERA,
    Do.CHOOSE_TARGET: Step.TARGET,
    Do.CHOOSE_SENSORS: Step.SENSORS,
}
