"""The picture of a watch: it is written, and shows every stroke once in every channel."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from linkage_rider import Pose, ride
from made_rides import write_ride
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from posewatch.app import Watcher
from posewatch.core.envelope import Target
from posewatch.core.outputs import HoldLost, Output, Reason, StrokeJudged, ValidInterval
from posewatch.core.records import Verdict
from posewatch.core.watch_plan import WatchPlan
from posewatch.report.watch_figure import draw_watch
from posewatch.store.settings import Settings
from posewatch.watched_source import Source


@pytest.fixture(scope="module")
def outputs(tmp_path_factory: pytest.TempPathFactory, ridden_target: Target) -> tuple[Output, ...]:
    """A ride with strokes in band, out of band and unknown."""

    def pose(t_s: float, crank_deg: float) -> Pose:
        hidden = ("shoulder",) if 14.0 <= t_s < 14.4 else ()
        return Pose(crank_deg, torso_deg=34.0 if t_s > 18.0 else 42.0, hidden=hidden)

    source = write_ride(
        tmp_path_factory.mktemp("figure") / "ride.landmarks.npz", ride(22.0, pose, seed=5)
    )
    watcher = Watcher(Source(source, "full"), ridden_target, WatchPlan(), Settings())
    return watcher.run(lambda *_: None, lambda _: None).outputs


def marks_by_time(axis: Axes) -> list[tuple[float, Line2D]]:
    """Each mark's time, and how it is drawn."""
    drawn = [line for line in axis.lines if line.get_marker() not in ("None", None, "")]
    return sorted(
        ((float(at_s), line) for line in drawn for at_s in np.asarray(line.get_xdata())),
        key=lambda mark: mark[0],
    )


@pytest.fixture
def drawn(monkeypatch: pytest.MonkeyPatch) -> list[Figure]:
    """Figures as they were when they were saved."""
    figures: list[Figure] = []
    save = Figure.savefig

    def keep(figure: Figure, *arguments: object, **named: object) -> None:
        figures.append(figure)
        save(figure, *arguments, **named)  # type: ignore[arg-type]

    monkeypatch.setattr(Figure, "savefig", keep)
    return figures


def test_the_figure_is_written_with_a_mark_for_every_stroke(
    tmp_path: Path, ridden_target: Target, outputs: tuple[Output, ...], drawn: list[Figure]
) -> None:
    path = tmp_path / "watch.png"
    draw_watch(ridden_target, outputs, 22.0, "a ride", path)
    assert path.read_bytes().startswith(b"\x89PNG")
    strokes = [o for o in outputs if isinstance(o, StrokeJudged)]
    axes = drawn[0].axes
    assert len(axes) == 1 + len(ridden_target.envelopes)
    for envelope, axis in zip(ridden_target.envelopes, axes[1:], strict=True):
        marks = marks_by_time(axis)
        assert len(marks) == len(strokes)
        values = [
            next(v for v in stroke.channels if v.channel is envelope.channel) for stroke in strokes
        ]
        for (at_s, mark), stroke, value in zip(marks, strokes, values, strict=True):
            if math.isnan(value.deviation):
                assert mark.get_marker() == "x"
            elif value.verdict is Verdict.OUT:
                assert mark.get_marker() == ("^" if value.deviation > 0 else "v")
            else:
                assert mark.get_marker() == "o"
                assert (mark.get_markerfacecolor() == "white") != stroke.counted
            assert stroke.start_ns < 1e9 * at_s < stroke.end_ns
    torso = {line.get_marker() for line in axes[1].lines}
    assert {"o", "x", "v"} <= torso


def test_intervals_and_losses_are_shown(
    tmp_path: Path, ridden_target: Target, outputs: tuple[Output, ...], drawn: list[Figure]
) -> None:
    draw_watch(ridden_target, outputs, 22.0, "a ride", tmp_path / "watch.png")
    words = [text.get_text() for text in drawn[0].axes[0].texts]
    for output in outputs:
        if isinstance(output, ValidInterval):
            assert str(output.n_strokes) in words
        if isinstance(output, HoldLost):
            assert f"lost: {output.channel or output.reason}" in words
    assert any(isinstance(o, ValidInterval) and o.confirmed for o in outputs)
    assert any(isinstance(o, HoldLost) for o in outputs)


def test_a_watch_in_which_nothing_happened_is_drawn_too(
    tmp_path: Path, ridden_target: Target
) -> None:
    path = tmp_path / "nothing.png"
    draw_watch(ridden_target, (), 4.0, "nothing", path)
    assert path.stat().st_size > 10_000


def test_a_value_far_out_stays_in_the_picture(
    tmp_path: Path, ridden_target: Target, outputs: tuple[Output, ...], drawn: list[Figure]
) -> None:
    stroke = next(o for o in outputs if isinstance(o, StrokeJudged))
    far = tuple(replace(v, deviation=1e6, verdict=Verdict.OUT) for v in stroke.channels)
    lost = HoldLost(stroke.end_ns, Reason.DRIFT)
    draw_watch(
        ridden_target, [replace(stroke, channels=far), lost], 22.0, "far", tmp_path / "far.png"
    )
    for axis in drawn[0].axes[1:]:
        (mark,) = (line for line in axis.lines if line.get_marker() == "^")
        assert axis.get_ylim()[0] <= float(np.asarray(mark.get_ydata())[0]) <= axis.get_ylim()[1]
