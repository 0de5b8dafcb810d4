"""Set-up's page of the sensors: none, or which gives what; and what is planned."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QGridLayout, QHBoxLayout, QLabel, QVBoxLayout

from posewatch.core.sensor_choice import SensorChoice
from posewatch.core.trainer_records import CAUTIONS, CAUTIONS_TITLE
from posewatch.ui import sensor_plan, sensor_view, setup_view
from posewatch.ui.scene import Scene
from posewatch.ui.sensor_plan import CADENCE_RANGE_RPM, POWER_RANGE_W, Role, key
from posewatch.ui.sensor_view import SensorCard
from posewatch.ui.setup_desk import Desk
from posewatch.ui.setup_pages import Page
from posewatch.ui.setup_parts import Choices, buddy, button, field, label
from posewatch.ui.setup_view import Action, Do

NORMAL = (
    "No sensors is a normal choice: position and strokes are watched all the same, and the cadence "
    "comes from the pedalling itself. A planned power needs a sensor."
)
#: Shown while a trainer is to hold the power.
CAUTIONS_OF_HOLD = " ".join((CAUTIONS_TITLE, *CAUTIONS))
NOTHING_PICKED = "Scan, then pick a sensor: it is connected, and its values are shown here."
FACTS = 4
#: Between rows of facts, and of buttons, px.
FACTS_APART, ACTS_APART = 4, 10
BUTTONS = {
    Role.POWER: "&Power from it",
    Role.CADENCE: "&Cadence from it",
    Role.OTHER_SIDE: "&Add its power (other side)",
    Role.HOLD: "&Let it hold the power",
}


class SensorPage(Page):
    """Sensors that are heard, the picked one closer, and the plan."""

    def __init__(self, desk: Desk, changed: Callable[[], None]) -> None:
        super().__init__(desk, changed)
        self._problem = ""
        self._normal, self._cautions = label(NORMAL, "faint"), label(CAUTIONS_OF_HOLD, "note")
        for one in (self._normal, self._cautions):
            self.column.addWidget(one)
        columns = QHBoxLayout()
        columns.setSpacing(24)
        columns.addLayout(self._make_list(), 1)
        columns.addLayout(self._make_card(), 1)
        self.column.addLayout(columns, 1)
        self._used = label("", "head")
        self.column.addWidget(self._used)
        self.column.addLayout(self._make_plan())

    def _make_list(self) -> QVBoxLayout:
        self._scan = button("&Scan for sensors", lambda: self.told(self.desk.scan_sensors))
        self._heard = label("", "faint")
        self._list = Choices("sensors")
        self._list.itemSelectionChanged.connect(self._pick)
        column = QVBoxLayout()
        column.setSpacing(ACTS_APART)
        column.addWidget(self._scan, 0, Qt.AlignmentFlag.AlignLeft)
        column.addWidget(self._list, 1)
        column.addWidget(self._heard)
        return column

    def _make_card(self) -> QVBoxLayout:
        self._name = label("", "head")
        self._value = label("", "title")
        self._state = label()
        facts = QGridLayout()
        facts.setColumnStretch(1, 1)
        facts.setVerticalSpacing(FACTS_APART)
        self._facts: list[tuple[QLabel, QLabel]] = []
        for row in range(FACTS):
            pair = label("", "faint", wraps=False), label()
            for column, one in enumerate(pair):
                facts.addWidget(one, row, column)
            self._facts.append(pair)
        self._gives = {
            role: button(text, partial(self._give, role)) for role, text in BUTTONS.items()
        }
        self._forget = button("&Forget it", self._let_go)
        acts = QGridLayout()
        acts.setSpacing(ACTS_APART)
        for place, made in enumerate((*self._gives.values(), self._forget)):
            acts.addWidget(made, place // 2, place % 2)
        card = QVBoxLayout()
        card.setSpacing(ACTS_APART)
        for one in (self._name, self._value, self._state):
            card.addWidget(one)
        card.addLayout(facts)
        card.addStretch(1)
        card.addLayout(acts)
        return card

    def _make_plan(self) -> QHBoxLayout:
        self._power = field("planned power in W, empty = not held", "not held")
        self._cadence = field("planned cadence in rpm, empty = not held", "not held")
        row = QHBoxLayout()
        for text, one in (("Planned po&wer, W", self._power), ("ca&dence, rpm", self._cadence)):
            one.setFixedWidth(130)
            one.textEdited.connect(lambda: self._typed())
            row.addWidget(buddy(text, one))
            row.addWidget(one)
        row.addStretch(1)
        return row

    def tell(self, scene: Scene) -> None:
        """Show what is heard, the picked sensor, and what is used."""
        desk, plan = self.desk, self.desk.setup.sensors
        sensors = desk.sensors
        rows: list[tuple[str, str, object]] = [
            (row.choice.name, row.detail, key(row.choice)) for row in sensors.rows
        ]
        self._list.offer(rows, None if sensors.picked is None else key(sensors.picked))
        self._heard.setText(sensors.words)
        self._scan.setEnabled(not sensors.is_scanning)
        self._show_card(sensors.card)
        self._used.setText(sensor_view.used_words(plan))
        self._normal.setVisible(plan.trainer is None)
        self._cautions.setVisible(plan.trainer is not None)
        for one, value in ((self._power, plan.power_w), (self._cadence, plan.cadence_rpm)):
            if not one.hasFocus() and not self._problem:
                one.setText("" if value is None else f"{value:g}")

    def _show_card(self, card: SensorCard | None) -> None:
        self._name.setText(NOTHING_PICKED if card is None else card.choice.name)
        age = f"  ({card.age})" if card is not None and card.age else ""
        self._value.setText("" if card is None else f"{card.value}{age}")
        self._value.setVisible(bool(card is not None and card.value))
        self._state.setText("" if card is None else card.state)
        facts = () if card is None else card.facts
        for (head, words), (name, text) in zip(
            self._facts, (*facts, *[("", "")] * (FACTS - len(facts))), strict=True
        ):
            head.setText(name)
            words.setText(text)
        why_not = {role: NOTHING_PICKED for role in Role} if card is None else dict(card.can)
        roles = () if card is None else self.desk.setup.sensors.roles_of(card.choice)
        for role, made in self._gives.items():
            made.setEnabled(not why_not[role] and role not in roles)
            made.setToolTip(why_not[role])
        self._forget.setEnabled(bool(roles))

    def action(self, scene: Scene) -> Action | None:
        """Go on with the sensors that give something, or without."""
        return setup_view.sensors_action(self.desk.setup, self._problem)

    def act(self, do: Do) -> None:
        """Tell the desk."""
        self.told(self.desk.use_sensors)

    def entered(self) -> bool:
        """Let the sensor that is picked in the list give what no other gives yet."""
        card, plan = self.desk.sensors.card, self.desk.setup.sensors
        if not self._list.hasFocus() or card is None:
            return False
        given = sensor_plan.give_all(plan, card.choice, card.services)
        if given == plan:
            return False
        self.told(self.desk.plan_sensors, given)
        return True

    def _pick(self) -> None:
        picked = self._list.picked()
        rows = (row.choice for row in self.desk.sensors.rows)
        self.told(self.desk.sensors.pick, next((one for one in rows if key(one) == picked), None))

    def _give(self, role: Role) -> None:
        choice = self._picked()
        if choice is not None:
            given = sensor_plan.give(self.desk.setup.sensors, role, choice)
            self.told(self.desk.plan_sensors, given)

    def _let_go(self) -> None:
        choice = self._picked()
        if choice is not None:
            left = sensor_plan.forget(self.desk.setup.sensors, choice)
            self.told(self.desk.plan_sensors, left)

    def _picked(self) -> SensorChoice | None:
        return self.desk.sensors.picked

    def _typed(self) -> None:
        """Take over the planned numbers; what cannot be is told beside the step's button."""
        self._problem = ""
        try:
            power_w = sensor_plan.planned(self._power.text(), "power", "W", POWER_RANGE_W)
            cadence_rpm = sensor_plan.planned(
                self._cadence.text(), "cadence", "rpm", CADENCE_RANGE_RPM
            )
        except ValueError as error:
            self._problem = str(error)
            self.changed()
            return
        plan = replace(self.desk.setup.sensors, power_w=power_w, cadence_rpm=cadence_rpm)
        self.told(self.desk.plan_sensors, plan)
