"""Deviations over the crank circle, and a band whose edges are dragged."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pyqtgraph as pg
import pytest
from linkage_rider import CHAIN, Pose, ride
from plot_mouse import at, drag
from PySide6.QtGui import QColor
from pytestqt.qtbot import QtBot

from posewatch.core.envelope import Target
from posewatch.core.records import Channel
from posewatch.ui.deviation_plot import DeviationPlot, mixed
from posewatch.ui.fitter_view import CRANK_DEG, ChannelShown, channel_shown
from posewatch.ui.stroke_traces import Traces, means_of, of_channel, traced
from posewatch.ui.theme import DARK, LIGHT


@pytest.fixture
def plot(
    qtbot: QtBot, ridden_target: Target, monkeypatch: pytest.MonkeyPatch
) -> Iterator[DeviationPlot]:
    # Mouse events come faster here than any hand makes them.
    monkeypatch.setitem(pg.CONFIG_OPTIONS, "mouseRateLimit", 0)
    widget = DeviationPlot()
    qtbot.addWidget(widget)
    widget.resize(600, 640)
    widget.show_channel(channel_shown(ridden_target, Channel.TORSO))
    with qtbot.waitExposed(widget):
        widget.show()
    yield widget
    widget.close()


@pytest.fixture(scope="module")
def traces(ridden_target: Target) -> Traces:
    frames = ride(12.0, lambda t_s, deg: Pose(deg, torso_deg=46.0 if t_s > 7.0 else 42.0), seed=3)
    return list(traced(frames, CHAIN, None, ridden_target))[-1]


def n_points(plot: DeviationPlot) -> list[int]:
    return [0 if c.xData is None else len(c.xData) for c in plot._traces]


@pytest.mark.parametrize(("start", "end", "limit"), [(3.0, 1.83, 1.8), (-3.0, -4.52, 4.5)])
def test_either_edge_of_the_band_is_dragged_to_a_limit_in_steps(
    qtbot: QtBot, plot: DeviationPlot, start: float, end: float, limit: float
) -> None:
    with qtbot.waitSignal(plot.limit_set) as told:
        drag(plot, 200.0, start, end)
    # A pixel of this plot is some 0.03 degrees.
    assert told.args == [pytest.approx(limit, abs=0.101)]
    assert told.args[0] == pytest.approx(round(told.args[0], 1))
    assert plot.limit == told.args[0]
    assert plot._band.rect().height() == pytest.approx(2 * told.args[0])
    assert {round(abs(edge.value()), 3) for edge in plot._edges} == {round(told.args[0], 3)}


def test_a_limit_is_never_dragged_to_nothing_nor_off_the_axis(
    qtbot: QtBot, plot: DeviationPlot
) -> None:
    with qtbot.waitSignal(plot.limit_set) as told:
        drag(plot, 200.0, 3.0, 0.0)
    assert told.args == [pytest.approx(0.1)]
    plot._place_limit(3.0)
    with qtbot.waitSignal(plot.limit_set) as told:
        drag(plot, 200.0, 3.0, 7.0)
    assert told.args[0] <= 6.0


def test_a_press_beside_the_edges_sets_nothing(qtbot: QtBot, plot: DeviationPlot) -> None:
    with qtbot.assertNotEmitted(plot.limit_set):
        drag(plot, 200.0, 1.0, 2.0)
    assert plot.limit == pytest.approx(3.0)


def test_the_axis_stays_where_it_is_whatever_is_drawn(plot: DeviationPlot, traces: Traces) -> None:
    box = plot._upper.getPlotItem().getViewBox()
    before = box.viewRange()
    plot.show_strokes(of_channel(traces, Channel.TORSO), means_of(traces, Channel.TORSO))
    assert box.viewRange() == before
    assert before[1] == [-6.0, 6.0]


def test_strokes_take_the_last_curves_and_no_item_is_made_anew(
    plot: DeviationPlot, traces: Traces
) -> None:
    items = plot._upper.getPlotItem().items[:]
    of_torso = of_channel(traces, Channel.TORSO)
    plot.show_strokes(of_torso[:3], means_of(traces, Channel.TORSO)[:3])
    n = n_points(plot)
    assert all(points == 0 for points in n[:14])
    # 20 pictures a turn; the second curve of each is for the hand's other part.
    assert all(18 <= points <= 21 for points in n[14::2])
    assert not any(n[15::2])
    plot.show_strokes(of_channel(traces, Channel.HAND_PLACE), ())
    assert all(18 <= points <= 21 for points in n_points(plot))
    plot.show_strokes((), ())
    assert not any(n_points(plot))
    assert plot._upper.getPlotItem().items == items


def test_a_mean_beyond_the_limit_is_a_triangle_that_points_away(
    plot: DeviationPlot, traces: Traces
) -> None:
    means = [0.4, 3.4, -3.6, float("nan"), 1.0]
    plot.show_strokes((), means)
    spots = plot._means.points()
    assert [spot.symbol() for spot in spots] == ["d", "t1", "t", "d"]
    assert [spot.pos().y() for spot in spots] == [0.4, 3.4, -3.6, 1.0]
    assert spots[-1].size() > spots[0].size()
    real = means_of(traces, Channel.TORSO)
    plot.show_strokes(of_channel(traces, Channel.TORSO), real)
    # The ride's last seconds have the torso 4 degrees high.
    assert plot._means.points()[-1].symbol() == "t1"


def test_another_version_and_the_target_itself_are_drawn(
    plot: DeviationPlot, ridden_target: Target
) -> None:
    plot.show_other(np.full((1, len(CRANK_DEG)), 0.7))
    assert plot._others[0].yData == pytest.approx(0.7)
    plot.show_other(())
    assert len(plot._others[0].xData) == 0
    hands = channel_shown(ridden_target, Channel.HAND_PLACE)
    plot.show_channel(hands)
    assert plot._curves[1].yData == pytest.approx(hands.curves[1])
    assert not plot._curve_edges[0].isVisible()
    knee: ChannelShown = channel_shown(ridden_target, Channel.KNEE)
    plot.show_channel(knee)
    assert plot._curve_edges[1].yData == pytest.approx(knee.curves[0] + 4.0)
    assert [line.value() for line in plot._inner] == [knee.inner, -knee.inner]
    assert plot.limit == pytest.approx(4.0)


def test_both_themes_paint_the_band_in_their_own_opaque_colour(plot: DeviationPlot) -> None:
    for theme in (DARK, LIGHT):
        plot.set_theme(theme, 13)
        wanted = mixed(theme.panel, theme.edge, 0.22)
        assert wanted.alpha() == 255
        seen = plot.grab().toImage()
        spot = plot._upper.mapTo(plot, at(plot, 359.0, -2.6))
        assert seen.pixelColor(spot).name() == wanted.name()
        assert seen.pixelColor(3, 60).name() == QColor(theme.panel).name()
