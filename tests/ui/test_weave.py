"""The painted weave: shapes, and that painting on looks like painting anew."""

from __future__ import annotations

import math

import numpy as np
import pytest
from exact_rider import TORSO, off, pedal, target, task, watch
from made_windows import has_colour, picture_of
from PySide6.QtCore import QRect
from PySide6.QtGui import QPainter, QPixmap
from pytestqt.qtbot import QtBot

from posewatch.core.records import FloatArray, Tick
from posewatch.core.watch_plan import WatchPlan
from posewatch.ui import weave_view
from posewatch.ui.theme import DARK, LIGHT, Theme
from posewatch.ui.weave import Weave
from posewatch.ui.weave_marks import paint_cell, paint_cut, paint_fate, threads
from posewatch.ui.weave_view import Cell, Column, Cut, Fate, Shade, WeaveView


@pytest.fixture(scope="module")
def views() -> list[WeaveView]:
    """The weave after each output of a ride with brief drifts, a lost hold and many strokes."""

    def away(t_s: float, _: float) -> FloatArray:
        return off(TORSO, 4.0 if 10.0 < t_s < 11.0 or 30.0 < t_s < 34.0 else 2.0 * math.sin(t_s))

    found = [weave_view.start(target(), WatchPlan())]
    for output in watch(task(), pedal(75.0, away))[1]:
        view = weave_view.step(found[-1], Tick(0), (output,))
        if view is not found[-1]:
            found.append(view)
    kinds = {c.fate if isinstance(c, Column) else Cut for v in found for c in v.columns}
    assert kinds >= {Fate.COUNTED, Fate.PENDING, Fate.STEADYING, Fate.NOT, Fate.DRIFT, Cut}
    assert found[-1].n_columns > weave_view.KEPT
    return found


def shown_weave(qtbot: QtBot, wide: int = 900, high: int = 400) -> Weave:
    """A hidden one would be told of a new size, and painted anew, each time it is looked at."""
    weave = Weave()
    qtbot.addWidget(weave)
    weave.resize(wide, high)
    weave.show()
    return weave


def painted(qtbot: QtBot, *views: WeaveView, theme: Theme = DARK) -> np.ndarray:
    weave = shown_weave(qtbot)
    for view in views:
        weave.show_view(view, theme)
        picture = picture_of(weave)
    return picture


def test_painting_on_looks_like_painting_anew(qtbot: QtBot, views: list[WeaveView]) -> None:
    at_once = painted(qtbot, views[-1])
    one_by_one = painted(qtbot, *views)
    assert np.array_equal(at_once, one_by_one)
    in_leaps = painted(qtbot, *views[::7], views[-1])
    assert np.array_equal(at_once, in_leaps)


@pytest.mark.parametrize("width", [640, 820, 1250, 1900])
def test_as_many_columns_as_can_be_told_apart(qtbot: QtBot, width: int) -> None:
    weave = Weave()
    qtbot.addWidget(weave)
    weave.resize(width, 400)
    assert 60 <= weave.n_visible <= 90


def test_only_new_columns_are_painted(
    qtbot: QtBot, views: list[WeaveView], monkeypatch: pytest.MonkeyPatch
) -> None:
    weave = shown_weave(qtbot)
    weave.show_view(views[-2], DARK)
    picture_of(weave)
    painted_columns = []
    whole = Weave._paint_column
    monkeypatch.setattr(
        Weave,
        "_paint_column",
        lambda self, *args: (painted_columns.append(args[2]), whole(self, *args)),
    )
    weave.show_view(views[-1], DARK)
    picture_of(weave)
    assert painted_columns == [views[-1].columns[-1]]
    picture_of(weave)
    assert len(painted_columns) == 1


def shape(paint: object) -> bytes:
    """What a shape covers, whatever its colours."""
    pixmap = QPixmap(9, 30)
    pixmap.fill(DARK.panel)
    painter = QPainter(pixmap)
    paint(painter)  # type: ignore[operator]
    painter.end()
    image = pixmap.toImage()
    return bytes(
        image.pixelColor(x, y).name() != DARK.panel.lower() for y in range(30) for x in range(9)
    )


def test_fates_and_cuts_are_told_apart_by_shape_alone() -> None:
    box, colours = QRect(0, 0, 9, 30), threads(DARK, True)
    shapes = {shape(lambda p, fate=fate: paint_fate(p, box, fate, colours, 1)) for fate in Fate}
    for lost in (True, False):
        cut = Cut(0, "", lost)
        shapes.add(
            shape(lambda p, cut=cut: paint_cut(p, box, QRect(0, 15, 9, 15), cut, colours, 1))
        )
    assert len(shapes) == len(Fate) + 2


@pytest.mark.parametrize("theme", [DARK, LIGHT])
def test_cells_are_told_apart_in_grey_and_by_their_tick(qtbot: QtBot, theme: Theme) -> None:
    def grey(cell: Cell) -> tuple[int, ...]:
        pixmap = QPixmap(9, 30)
        pixmap.fill(theme.panel)
        painter = QPainter(pixmap)
        paint_cell(painter, QRect(0, 0, 9, 30), cell, threads(theme, True), 1)
        painter.end()
        image = pixmap.toImage()
        return tuple(round(image.pixelColor(4, y).lightnessF() * 20) for y in range(30))

    seen = {grey(Cell(shade, 0.4)) for shade in Shade}
    assert len(seen) == len(Shade)
    assert grey(Cell(Shade.INSIDE, 0.4)) == grey(Cell(Shade.INSIDE, -0.4))[::-1]


def test_an_empty_weave_says_what_will_be_there(qtbot: QtBot) -> None:
    weave = Weave()
    qtbot.addWidget(weave)
    weave.resize(600, 300)
    weave.show_view(None, DARK)
    assert has_colour(picture_of(weave), DARK.faint).any()


def test_a_change_of_theme_paints_all_of_it(qtbot: QtBot, views: list[WeaveView]) -> None:
    weave = shown_weave(qtbot)
    weave.show_view(views[-1], DARK)
    picture_of(weave)
    weave.show_view(views[-1], LIGHT)
    picture = picture_of(weave)
    assert np.array_equal(picture, painted(qtbot, views[-1], theme=LIGHT))
