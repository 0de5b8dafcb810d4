"""Marks differ by shape, not only by colour; every need is in the list with its words."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from PySide6.QtCore import QRectF
from PySide6.QtGui import QColor, QImage, QPainter
from PySide6.QtWidgets import QLabel
from pytestqt.qtbot import QtBot

from posewatch.core.needs import Facts, Need, Readiness
from posewatch.core.readiness import readiness
from posewatch.ui.readiness_list import ReadinessList
from posewatch.ui.readiness_marks import paint_mark
from posewatch.ui.theme import DARK, LIGHT, Theme


def painted(level: Readiness, theme: Theme) -> np.ndarray:
    """Where a mark has paint, whatever its colour."""
    image = QImage(32, 32, QImage.Format.Format_Grayscale8)
    image.fill(QColor(theme.ground))
    ground = image.pixelColor(0, 0).value()
    painter = QPainter(image)
    paint_mark(painter, QRectF(0, 0, 32, 32), level, theme)
    painter.end()
    grey = np.array(image.constBits()).reshape(32, image.bytesPerLine())[:, :32]
    return np.abs(grey.astype(int) - ground) > 20


@pytest.mark.usefixtures("qapp")
@pytest.mark.parametrize("theme", [DARK, LIGHT], ids=["dark", "light"])
def test_marks_differ_in_shape(theme: Theme) -> None:
    shapes = {level: painted(level, theme) for level in Readiness}
    for one, other in combinations(Readiness, 2):
        assert np.mean(shapes[one] != shapes[other]) > 0.05
    filled = {level: shape.sum() for level, shape in shapes.items()}
    assert max(filled, key=lambda level: filled[level]) is Readiness.READY


def test_every_need_is_shown_with_level_and_words(qtbot: QtBot) -> None:
    shown = ReadinessList()
    qtbot.addWidget(shown)
    shown.tell(readiness(Facts()), DARK)
    texts = [one.text() for one in shown.findChildren(QLabel)]
    assert [text for text in texts if text in set(Need)] == list(Need)
    assert texts.count("missing") == 3
    told = [one.accessibleName() for one in shown.findChildren(QLabel) if one.accessibleName()]
    assert told[0] == "consent: missing, not asked. let the rider read and agree"


def test_words_are_not_markup(qtbot: QtBot) -> None:
    shown = ReadinessList()
    qtbot.addWidget(shown)
    shown.tell(readiness(Facts(camera="<b>bold</b>", is_open=True)), DARK)
    assert any("&lt;b&gt;" in one.text() for one in shown.findChildren(QLabel))
