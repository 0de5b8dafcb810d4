"""Set-up's page on which a visit is chosen: none, a first look, a plan, or one that was left."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QStackedWidget,
    QWidget,
)

from posewatch.errors import PosewatchError
from posewatch.ui import setup_view
from posewatch.ui.scene import Scene
from posewatch.ui.setup_desk import Desk
from posewatch.ui.setup_pages import Page
from posewatch.ui.setup_parts import Choices, buddy, button, field, label
from posewatch.ui.setup_view import Action, Do
from posewatch.ui.visit_choice import KINDS
from posewatch.visits.left_visits import FoundVisit

NO_VISIT, FIRST_LOOK, PLAN = "no visit", "first look", "plan"
CHOICES: list[tuple[str, str, object]] = [
    ("No visit", "a single watch", NO_VISIT),
    (
        "First look",
        "two covered items, three pairs, an indication only; plan and sealed codes are made here",
        FIRST_LOOK,
    ),
    ("A plan of yours", "made with posewatch plan new, codes with posewatch codes seal", PLAN),
]
SLIP = """Write this down now, where the rider does not see it. It is shown this once and kept
nowhere: without the passphrase nobody ever learns which item had which label."""


class VisitPage(Page):
    """No visit, a first look, a plan, or one that was left."""

    def __init__(self, desk: Desk, changed: Callable[[], None]) -> None:
        super().__init__(desk, changed)
        self._choices = Choices("visits")
        self._choices.itemSelectionChanged.connect(lambda: changed())
        self._fields = QStackedWidget()
        self._pages: dict[str, QWidget] = {NO_VISIT: QWidget()}
        self._make_first_look()
        self._make_plan()
        self._make_left()
        for page in self._pages.values():
            self._fields.addWidget(page)
        self._slip = label("", "command")
        self._slip.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByKeyboard)
        self._slip.setAccessibleName("passphrase and labels")
        self._written = field("last group of the passphrase", "the last five characters")
        self._written.textChanged.connect(lambda: changed())
        self._proof = _grid(
            [(buddy("To go on, &type its last group", self._written), self._written)]
        )
        self.column.addWidget(self._choices, 1)
        self.column.addWidget(self._fields)
        self.column.addWidget(self._slip)
        self.column.addWidget(self._proof)

    def _make_first_look(self) -> None:
        self._kind = QComboBox()
        self._kind.addItems(list(KINDS))
        self._kind.setAccessibleName("what is compared")
        hint = "may stay empty: then the rider's card alone says which it is"
        self._names = [field(f"name of item {letter}", hint) for letter in "AB"]
        kind = QLabel("&Kind")
        kind.setBuddy(self._kind)
        rows: list[tuple[QLabel, QWidget]] = [(kind, self._kind)]
        for words, name in zip(("Item A, &first", "Item B, &second"), self._names, strict=True):
            # Names go into the sealed code list and nowhere else, the screen included.
            name.setEchoMode(QLineEdit.EchoMode.PasswordEchoOnEdit)
            rows.append((buddy(words, name), name))
        self._rehearses = QCheckBox("&Rehearse: nothing counts, and waits are passed over")
        self._pages[FIRST_LOOK] = _grid(rows, self._rehearses)

    def _make_plan(self) -> None:
        self._plan = field("plan's file", "comparison.plan.json")
        self._codes = field("sealed code list", "may stay empty where items are not concealed")
        self._number = field("visit", "1")
        self._rehearses_plan = QCheckBox("&Rehearse: nothing counts, and waits are passed over")
        self._pages[PLAN] = _grid(
            [
                (buddy("&Plan", self._plan), self._plan),
                (buddy("Sealed &codes", self._codes), self._codes),
                (buddy("&Visit of the plan", self._number), self._number),
            ],
            self._rehearses_plan,
        )

    def _make_left(self) -> None:
        self._why = field("why it ends", "closed visits are kept, and not gone on with")
        close = button("&Close it for good", lambda: self._close_left())
        page = QWidget()
        row = QHBoxLayout(page)
        row.setContentsMargins(0, 0, 0, 0)
        row.addWidget(buddy("or it ends here, becau&se", self._why))
        row.addWidget(self._why, 1)
        row.addWidget(close)
        self._pages["left"] = page

    def tell(self, scene: Scene) -> None:
        """Offer what there is."""
        visits = self.desk.visits
        left = [("Go on with a visit that was left", one.words, one) for one in visits.left]
        picked = self._choices.picked()
        if picked is None or (isinstance(picked, FoundVisit) and picked not in visits.left):
            folder = None if visits.wanted is None else visits.wanted.folder
            picked = next((one for one in visits.left if one.folder == folder), NO_VISIT)
        self._choices.offer([*CHOICES, *left], picked)
        self._fields.setCurrentWidget(self._pages[self._which()])
        slip = visits.slip
        self._choices.setEnabled(slip is None)
        self._fields.setVisible(slip is None)
        self._slip.setVisible(slip is not None)
        self._proof.setVisible(slip is not None)
        lines = [] if slip is None else [SLIP, "", f"passphrase   {slip.passphrase}"]
        for code, letter in () if slip is None else slip.labels:
            lines.append(f"label {code}   goes onto item {letter} of the rider's card")
        self._slip.setText("\n".join(lines))

    def action(self, scene: Scene) -> Action | None:
        """Use what is picked."""
        if (slip := self.desk.visits.slip) is not None:
            typed = self._written.text().strip() == slip.passphrase.split("-")[-1]
            why_not = "" if typed else "type the passphrase's last group, from what you wrote"
            return Action(Do.USE_VISIT, "It is written down", why_not)
        labels = {
            NO_VISIT: "Go without a visit",
            FIRST_LOOK: "Make the first look",
            PLAN: "Use this plan",
        }
        return Action(Do.USE_VISIT, labels.get(self._which(), "Go on with it"))

    def act(self, do: Do) -> None:
        """Use what is picked; what is wrong with it is told."""
        desk, visits = self.desk, self.desk.visits
        if visits.slip is not None:
            visits.written_down()
            self._written.clear()
            self.told(desk.go, setup_view.onward(desk.setup))
            return
        picked = self._choices.picked()
        try:
            if isinstance(picked, FoundVisit):
                visits.go_on(picked)
            elif picked == FIRST_LOOK:
                self._first_look()
            elif picked == PLAN:
                visits.use_plan(
                    self._plan.text(),
                    self._codes.text(),
                    self._number.text(),
                    self._rehearses_plan.isChecked(),
                )
            else:
                visits.go_without()
        except PosewatchError as error:
            desk.note = str(error)
            self.changed()
            return
        if visits.slip is None:
            desk.go(setup_view.onward(desk.setup))
        self.changed()

    def first(self) -> QWidget | None:
        """Return the list, or the line that proves that the slip was written down."""
        return self._choices if self.desk.visits.slip is None else self._written

    def _which(self) -> str:
        picked = self._choices.picked()
        return picked if isinstance(picked, str) else "left"

    def _first_look(self) -> None:
        one, other = (name.text() for name in self._names)
        self.desk.visits.make_first_look(
            self._kind.currentText(),
            (one, other),
            self.desk.setup,
            self.desk.targets,
            self._rehearses.isChecked(),
        )
        for name in self._names:
            name.clear()
        self.desk.note = ""
        self.changed()
        self._written.setFocus()

    def _close_left(self) -> None:
        picked = self._choices.picked()
        if not isinstance(picked, FoundVisit):
            return
        try:
            self.desk.visits.close_left(picked, self._why.text())
            self.desk.note = f"Closed: {picked.folder}"
            self._why.clear()
        except PosewatchError as error:
            self.desk.note = str(error)
        self.changed()


def _grid(rows: list[tuple[QLabel, QWidget]], last: QWidget | None = None) -> QWidget:
    page = QWidget()
    grid = QGridLayout(page)
    grid.setContentsMargins(0, 0, 0, 0)
    for number, (name, widget) in enumerate(rows):
        grid.addWidget(name, number, 0)
        grid.addWidget(widget, number, 1)
    if last is not None:
        grid.addWidget(last, len(rows), 1)
    grid.setColumnStretch(1, 1)
    return page
