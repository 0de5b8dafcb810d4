"""The operator's row of sensors: how each stands, how the trainer is held, and their two acts."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from PySide6.QtWidgets import QHBoxLayout, QWidget

from posewatch.studio import Doing
from posewatch.ui.health_strip import HealthStrip
from posewatch.ui.health_view import sensor_items
from posewatch.ui.keys import Act
from posewatch.ui.operator_buttons import OF_SENSORS, ActButtons
from posewatch.ui.operator_meter import MeterActs
from posewatch.ui.operator_trainer import TrainerActs
from posewatch.ui.scene import Scene
from posewatch.ui.theme import Theme


class SensorRow(QWidget):
    """Hidden while there is no sensor."""

    def __init__(
        self, acts: Mapping[Act, Callable[[], None]], trainer: TrainerActs, meter: MeterActs
    ) -> None:
        super().__init__()
        self._trainer, self._meter = trainer, meter
        self._strip = HealthStrip("sensors")
        self._buttons = ActButtons(OF_SENSORS, acts)
        line = QHBoxLayout(self)
        line.setContentsMargins(0, 0, 0, 0)
        line.addWidget(self._strip, 1)
        line.addWidget(self._buttons)
        self.hide()

    def show_scene(self, scene: Scene, theme: Theme) -> None:
        """Take over how they stand."""
        held = self._trainer.item()
        items = sensor_items(scene) + (() if held is None else (held,))
        self.setVisible(bool(items))
        self._strip.show_items(items, theme)
        there = {Act.HOLD: held is not None, Act.ZERO: self._meter.is_there}
        self._buttons.show_only([act for act, is_there in there.items() if is_there])
        self._buttons.rename(Act.HOLD, "let go" if self._trainer.is_under_way else "hold power")
        self._buttons.enable({Act.HOLD: scene.doing is Doing.WATCH})

    def set_height(self, px: int) -> None:
        """Let the strip be so high."""
        self._strip.setMinimumHeight(px)
