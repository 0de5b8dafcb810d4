"""The mark, as it is painted."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from made_windows import has_colour, picture_of
from pytestqt.qtbot import QtBot

from posewatch.ui import mark_shapes
from posewatch.ui.body_mark import BodyMark
from posewatch.ui.rider_view import Face, Kind, RiderView
from posewatch.ui.theme import DARK, LIGHT, Theme
from posewatch.ui.ways import WAYS

QUIET = RiderView(Face(Kind.QUIET, "in position"), lit=5, needed=5)
COACH = RiderView(Face(Kind.COACH, "steady"), needed=5)


@pytest.fixture
def mark(qtbot: QtBot) -> BodyMark:
    widget = BodyMark()
    qtbot.addWidget(widget)
    widget.resize(900, 400)
    return widget


def painted(mark: BodyMark, view: RiderView, theme: Theme = DARK) -> np.ndarray:
    mark.show_view(view, theme)
    return picture_of(mark)


def orange_middle(
    mark: BodyMark, words: str, place: dict[str, Any], faces: int = 1
) -> tuple[float, float]:
    """Return the mean place of what is orange, px from the middle, y up."""
    view = RiderView(Face(Kind.QUIET, words, WAYS[words]), faces=faces, lit=5, needed=5, **place)
    where = np.argwhere(has_colour(painted(mark, view), DARK.off))
    assert len(where) > 1000
    y, x = where.mean(axis=0)
    return float(x - 450), float(200 - y)


@pytest.mark.parametrize("theme", [DARK, LIGHT])
def test_in_position_it_is_blue_and_a_correction_orange(mark: BodyMark, theme: Theme) -> None:
    calm = painted(mark, QUIET, theme)
    assert has_colour(calm, theme.held).sum() > 5000
    assert not has_colour(calm, theme.off).any()
    off = replace(QUIET, face=Face(Kind.QUIET, "sit back", WAYS["sit back"]), along=0.5)
    corrected = painted(mark, off, theme)
    assert has_colour(corrected, theme.off).sum() > 5000


def test_unknown_is_hatched(mark: BodyMark) -> None:
    hatched = painted(
        mark, replace(COACH, face=Face(Kind.WAIT, "camera: no picture", hatched=True))
    )
    row = has_colour(hatched, DARK.unknown)[150]
    stripes = np.count_nonzero(np.diff(row.astype(int)) == 1)
    assert stripes >= 5
    assert not has_colour(hatched, DARK.off).any()


def test_the_mark_goes_where_its_value_is(mark: BodyMark) -> None:
    _, high = orange_middle(mark, "lower, bend elbows", {"up": 0.8})
    _, low = orange_middle(mark, "taller, straighten arms", {"up": -0.8})
    assert high - low > 60
    in_front, _ = orange_middle(mark, "sit back", {"along": 0.8})
    behind, _ = orange_middle(mark, "sit forward", {"along": -0.8})
    assert in_front - behind > 100


def test_to_the_left_everything_is_mirrored(mark: BodyMark) -> None:
    right = painted(mark, replace(COACH, along=0.6, faces=1))
    left = painted(mark, replace(COACH, along=0.6, faces=-1))
    differs = np.abs(right[:, ::-1].astype(int) - left).max(axis=2) > 60
    assert differs.mean() < 0.005
    assert np.abs(right.astype(int) - left).max() > 100


def test_each_good_stroke_lights_a_part_of_the_nest(mark: BodyMark) -> None:
    lit = [
        has_colour(painted(mark, replace(COACH, lit=n, up=1.0)), DARK.counted).sum()
        for n in range(6)
    ]
    steps = np.diff(lit)
    assert steps.min() > 200


def test_the_mark_is_one_high_in_its_own_measure() -> None:
    box = mark_shapes.MARK.boundingRect()
    assert box.height() == pytest.approx(1.0, abs=0.03)
    assert box.width() == pytest.approx(1.6, abs=0.05)


@pytest.mark.parametrize("n", [1, 3, 5])
def test_the_nest_lies_under_the_mark(n: int) -> None:
    parts = mark_shapes.nest_parts(n, mark_shapes.NEST)
    assert len(parts) == n
    for part in parts:
        points = [part.pointAtPercent(percent / 100) for percent in range(101)]
        assert not any(mark_shapes.MARK.contains(point) for point in points)
        assert (
            mark_shapes.MARK.boundingRect()
            .adjusted(-0.2, 0, 0.2, 0.2)
            .contains(part.boundingRect())
        )
    lengths = [part.length() for part in parts]
    assert max(lengths) < 1.3 * min(lengths)
