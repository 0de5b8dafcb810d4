"""A mouse on the plot of deviations."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QEvent, QPoint, QPointF, Qt
from PySide6.QtGui import QMouseEvent
from PySide6.QtWidgets import QApplication

from posewatch.ui.deviation_plot import DeviationPlot


def at(plot: DeviationPlot, crank_deg: float, deviation: float) -> QPoint:
    """Return where a deviation is in the upper plot's viewport."""
    box = plot._upper.getPlotItem().getViewBox()
    return plot._upper.mapFromScene(box.mapViewToScene(QPointF(crank_deg, deviation)))


def drag(plot: DeviationPlot, crank_deg: float, start: float, end: float) -> None:
    """Drag with the mouse from one deviation to another, on the way through some between."""
    kinds = QEvent.Type
    left, none = Qt.MouseButton.LeftButton, Qt.MouseButton.NoButton
    _send(plot, kinds.MouseMove, at(plot, crank_deg, start), none, none)
    _send(plot, kinds.MouseButtonPress, at(plot, crank_deg, start), left, left)
    for share in np.linspace(0.0, 1.0, 8)[1:]:
        now = at(plot, crank_deg, start + share * (end - start))
        _send(plot, kinds.MouseMove, now, none, left)
    _send(plot, kinds.MouseButtonRelease, at(plot, crank_deg, end), left, none)


def _send(
    plot: DeviationPlot,
    kind: QEvent.Type,
    place: QPoint,
    button: Qt.MouseButton,
    held: Qt.MouseButton,
) -> None:
    port = plot._upper.viewport()
    everywhere = QPointF(port.mapToGlobal(place))
    event = QMouseEvent(
        kind, QPointF(place), everywhere, button, held, Qt.KeyboardModifier.NoModifier
    )
    QApplication.sendEvent(port, event)
