"""Looking at windows without a screen."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from PySide6.QtGui import QColor, QImage
from PySide6.QtWidgets import QWidget

Rgb = NDArray[np.uint8]


def picture_of(widget: QWidget) -> Rgb:
    """Return what a widget paints, (h, w, 3) uint8."""
    image = widget.grab().toImage().convertToFormat(QImage.Format.Format_RGB888)
    rows = np.frombuffer(image.constBits(), np.uint8).reshape(image.height(), -1)
    return rows[:, : 3 * image.width()].reshape(image.height(), image.width(), 3).copy()


def has_colour(picture: Rgb, colour: str, within: int = 12) -> NDArray[np.bool_]:
    """Return where a picture has a colour, (h, w) bool."""
    wanted = QColor(colour)
    rgb = np.array((wanted.red(), wanted.green(), wanted.blue()))
    away: NDArray[np.bool_] = np.abs(picture.astype(int) - rgb).max(axis=2) <= within
    return away
