"""Set-up's pages: the beginning, rider and target, readiness.

Pages ask the desk for everything and keep nothing but what is being typed.
"""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtWidgets import (
    QComboBox,
    QCompleter,
    QGridLayout,
    QLabel,
    QVBoxLayout,
    QWidget,
)

from posewatch.studio import Doing
from posewatch.ui import setup_view
from posewatch.ui.readiness_list import ReadinessList
from posewatch.ui.scene import Scene
from posewatch.ui.setup_choices import TargetChoice
from posewatch.ui.setup_desk import Desk
from posewatch.ui.setup_parts import Choices, buddy, button, field, label
from posewatch.ui.setup_view import HANDS, Action, Do
from posewatch.ui.visit_offers import LeftVisit, VisitRow


class Page(QWidget):
    """One step's page. changed: to be called after the desk was told something."""

    def __init__(self, desk: Desk, changed: Callable[[], None]) -> None:
        super().__init__()
        self.setObjectName("page")
        self.desk, self.changed = desk, changed
        self.column = QVBoxLayout(self)
        self.column.setContentsMargins(0, 0, 0, 0)

    def tell(self, scene: Scene) -> None:
        """Show how things stand."""

    def action(self, scene: Scene) -> Action | None:
        """Return what the step's button does, None = it has none."""
        return None

    def act(self, do: Do) -> None:
        """Do the step's action, where it is this page's own."""

    def entered(self) -> bool:
        """Return was pressed; True = the page has taken it."""
        return False

    def first(self) -> QWidget | None:
        """Return what has the keyboard first, None = the step's button."""
        return None

    def told(self, tell: Callable[..., object], *values: object) -> None:
        """Tell the desk something, and show what it has come to."""
        tell(*values)
        self.changed()


class StartPage(Page):
    """A new set-up, or all as last time."""

    def __init__(self, desk: Desk, changed: Callable[[], None]) -> None:
        super().__init__(desk, changed)
        self._same = button("", lambda: self.told(desk.begin_same), "large")
        self._new = button(
            "&New rider, or anything else that is new\n"
            "six steps: consent, camera, camera profile, target, sensors, readiness",
            lambda: self.told(desk.begin_new),
            "large",
        )
        self._left = LeftVisit(desk, changed)
        self.column.addStretch(1)
        self.column.addWidget(self._left)
        self.column.addWidget(self._same)
        self.column.addWidget(self._new)
        self.column.addStretch(2)

    def tell(self, scene: Scene) -> None:
        """Say what last time was."""
        last = self.desk.memory.choices
        camera = last.camera_name or last.camera
        profile = last.profile or "no camera profile"
        sensors = (last.power_sensor, last.power_other_side, last.cadence_sensor)
        named = dict.fromkeys(one.name for one in sensors if one is not None)
        told = "; ".join([last.target, camera, profile, *named])
        self._same.setText(f"&Same rider, same bike as last time\n{told.replace('&', '&&')}")
        self._same.setVisible(setup_view.can_be_same(last))
        self._left.tell()

    def first(self) -> QWidget | None:
        """Return the button that is most likely wanted."""
        usual = self._new if self._same.isHidden() else self._same
        return self._left.first() or usual


class TargetPage(Page):
    """Rider, bike and hand position: a saved target, or one to capture."""

    def __init__(self, desk: Desk, changed: Callable[[], None]) -> None:
        super().__init__(desk, changed)
        self._rider = label("", "head")
        self._bike = field("bike", "the rider's word for it: road")
        self._hands = QComboBox()
        self._hands.setEditable(True)
        self._hands.addItems(HANDS)
        self._hands.setAccessibleName("hand position")
        self._bike.textEdited.connect(lambda: self._placed())
        self._hands.currentTextChanged.connect(lambda: self._placed())
        self._targets = Choices("targets")
        self._targets.itemSelectionChanged.connect(lambda: self._picked_one())
        fields = QGridLayout()
        fields.addWidget(QLabel("Rider"), 0, 0)
        fields.addWidget(self._rider, 0, 1)
        fields.addWidget(buddy("Bi&ke", self._bike), 1, 0)
        fields.addWidget(self._bike, 1, 1)
        hands = QLabel("Han&ds")
        hands.setBuddy(self._hands)
        fields.addWidget(hands, 2, 0)
        fields.addWidget(self._hands, 2, 1)
        fields.setColumnStretch(1, 1)
        fields.setColumnStretch(2, 1)
        self.column.addLayout(fields)
        self.column.addWidget(label("Targets of this rider, and a new one", "head"))
        self.column.addWidget(self._targets, 1)
        self.column.addWidget(
            label(
                "A target is captured from the fitted position as it is ridden: three sits of "
                "twenty strokes, in the fitter's window.",
                "faint",
            )
        )

    def tell(self, scene: Scene) -> None:
        """Offer the rider's targets."""
        setup = self.desk.setup
        self._rider.setText(setup.rider or "not known yet: step 1")
        own = [one for one in self.desk.targets if one.rider == setup.rider]
        bikes = sorted({one.bike for one in own})
        completer = self._bike.completer()
        if completer is None or completer.property("bikes") != bikes:
            completer = QCompleter(bikes, self._bike)
            completer.setProperty("bikes", bikes)
            self._bike.setCompleter(completer)
        choices: list[tuple[str, str, object]] = [(one.name, "", one) for one in own]
        picked = self._picked()
        if not self._targets.has_picked() or (picked is not None and picked not in own):
            picked = self._likely(own)
            if picked is not None:
                self.desk.place(picked.bike, picked.hands)
        self._targets.offer([*choices, ("Capture a new target", "", None)], picked)
        self._show_place()

    def _show_place(self) -> None:
        """Show bike and hands, unless they are being typed."""
        setup = self.desk.setup
        if not self._bike.hasFocus():
            self._bike.setText(setup.bike)
        if setup.hands != self._hands.currentText():
            self._hands.blockSignals(True)
            self._hands.setCurrentText(setup.hands)
            self._hands.blockSignals(False)

    def action(self, scene: Scene) -> Action | None:
        """Use the picked target, or capture one."""
        return setup_view.target_action(self.desk.setup, self._picked())

    def act(self, do: Do) -> None:
        """Use the picked target."""
        picked = self._picked()
        if do is Do.USE_TARGET and picked is not None:
            self.told(self.desk.use_target, picked)

    def first(self) -> QWidget | None:
        """Return the list where there is something to choose from."""
        return self._targets if self._targets.count() > 1 else self._bike

    def _picked(self) -> TargetChoice | None:
        picked = self._targets.picked()
        return picked if isinstance(picked, TargetChoice) else None

    def _likely(self, own: list[TargetChoice]) -> TargetChoice | None:
        """Return the target that is chosen, was last time, or is of this bike and hands."""
        setup, last = self.desk.setup, self.desk.memory.choices
        for name in (setup.target, last.target):
            if found := next((one for one in own if one.name == name), None):
                return found
        return self._placed_there(own)

    def _placed_there(self, own: list[TargetChoice]) -> TargetChoice | None:
        place = (self.desk.setup.bike, self.desk.setup.hands)
        return next((one for one in own if (one.bike, one.hands) == place), None)

    def _picked_one(self) -> None:
        picked = self._picked()
        if picked is not None:
            self.desk.place(picked.bike, picked.hands)
        self.changed()

    def _placed(self) -> None:
        """Let the list follow what is typed."""
        desk = self.desk
        desk.place(self._bike.text().strip(), self._hands.currentText().strip())
        own = [one for one in desk.targets if one.rider == desk.setup.rider]
        self._targets.pick(self._placed_there(own))
        self.changed()


class ReadyPage(Page):
    """The readiness list."""

    def __init__(self, desk: Desk, changed: Callable[[], None]) -> None:
        super().__init__(desk, changed)
        self._list, self._visit = ReadinessList(), VisitRow(desk, changed)
        self.column.addWidget(self._list, 1)
        self.column.addWidget(self._visit)

    def tell(self, scene: Scene) -> None:
        """Show the list."""
        self._list.tell(self.desk.lines, scene.switches.theme)
        self._visit.tell()

    def action(self, scene: Scene) -> Action | None:
        """Return the next thing to do; at last, to begin."""
        is_open = scene.doing is Doing.PREVIEW or self.desk.viewfinder.is_wanted
        return setup_view.ready_action(self.desk.setup, is_open, self.desk.lines)
