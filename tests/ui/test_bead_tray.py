"""The tray, as it is painted."""

from __future__ import annotations

import numpy as np
import pytest
from made_windows import has_colour, picture_of
from pytestqt.qtbot import QtBot
from scipy import ndimage

from posewatch.ui.bead_tray import BeadTray, tray_grid
from posewatch.ui.theme import DARK
from posewatch.ui.tray import Beads


@pytest.fixture
def tray(qtbot: QtBot) -> BeadTray:
    widget = BeadTray()
    qtbot.addWidget(widget)
    widget.resize(1300, 250)
    return widget


def beads_in(tray: BeadTray, beads: Beads) -> tuple[int, int]:
    """Return how many beads and how many dimples are painted."""
    tray.show_beads(beads, DARK)
    picture = picture_of(tray)
    _, laid = ndimage.label(has_colour(picture, DARK.counted, 40))
    _, dimples = ndimage.label(has_colour(picture, DARK.unknown, 8))
    return laid, dimples - 1  # the tray itself


@pytest.mark.parametrize(
    ("filled", "slots"), [(0, 8), (5, 8), (8, 8), (12, 60), (59, 60), (123, 200), (200, 200)]
)
def test_each_bead_is_one_and_each_free_slot_a_dimple(
    tray: BeadTray, filled: int, slots: int
) -> None:
    assert beads_in(tray, Beads(filled, slots, 0, 1.0)) == (filled, slots - filled)


def test_without_a_goal_nothing_is_painted(tray: BeadTray) -> None:
    tray.show_beads(Beads(0, 0, 0, 1.0), DARK)
    assert has_colour(picture_of(tray), DARK.ground, 0).all()


def test_a_bead_falls_from_above(tray: BeadTray) -> None:
    tops = []
    for fallen in (0.0, 0.5, 1.0):
        tray.show_beads(Beads(1, 8, 1, fallen), DARK)
        tops.append(np.argwhere(has_colour(picture_of(tray), DARK.counted, 40))[:, 0].min())
    assert tops[0] <= 2
    assert tops[0] < tops[1] < tops[2]


@pytest.mark.parametrize("slots", [1, 8, 60, 200, 300])
@pytest.mark.parametrize(("width", "height"), [(1300, 220), (700, 220), (400, 60), (900, 900)])
def test_slots_fill_the_place_and_are_as_large_as_it_allows(
    slots: int, width: float, height: float
) -> None:
    columns, rows, size = tray_grid(slots, width, height)
    assert columns * rows >= slots > (columns - 1) * rows
    assert columns * size <= width + 1e-9
    assert rows * size <= height + 1e-9
    best = max(min(width / -(-slots // n), height / n) for n in range(1, slots + 1))
    assert size == pytest.approx(best)
