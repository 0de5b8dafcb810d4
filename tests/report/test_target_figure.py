"""The picture of a target: written whole, and showing what the target says."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from exact_rider import target as made_target
from matplotlib.axes import Axes
from matplotlib.collections import PolyCollection
from matplotlib.figure import Figure

from posewatch.core import harmonics
from posewatch.core.envelope import NOMINAL_THIGH_MM, Target
from posewatch.core.records import BODY_CHANNELS, Channel
from posewatch.core.resolution import resolution
from posewatch.errors import BadInput
from posewatch.report.target_figure import CURVES, draw_target, write_target_figure

KNEE = (70.0, 30.0, -12.0) + (0.0,) * 10


@pytest.fixture
def target() -> Target:
    """A target with a knee that bends, of three sits."""
    before = made_target()
    envelopes = (
        replace(e, resit_sd=1.5 * e.stroke_sd, centre=(KNEE,) if e.channel == "knee" else e.centre)
        for e in before.envelopes
    )
    return replace(before, envelopes=tuple(envelopes), sits=(20, 21, 22), rider="R_7 $x$")


def curve_axis(figure: Figure, channel: Channel) -> Axes:
    return next(a for a in figure.axes if f"{{{channel}}}" in a.get_ylabel())


def ruler(figure: Figure, channel: Channel) -> Axes:
    name = str(channel).replace(" ", "~")
    return next(a for a in figure.axes if f"{{{name}}}" in a.get_title(loc="left"))


@pytest.mark.parametrize(
    ("name", "begins"),
    [("t.png", b"\x89PNG"), ("t.SVG", b"<?xml"), ("t.pdf", b"%PDF")],
)
def test_the_figure_is_written(target: Target, tmp_path: Path, name: str, begins: bytes) -> None:
    write_target_figure(target, tmp_path / name)
    assert (tmp_path / name).read_bytes().startswith(begins)
    assert [path.name for path in tmp_path.iterdir()] == [name]


def test_no_file_is_written_over_and_no_half_one_left(target: Target, tmp_path: Path) -> None:
    path = tmp_path / "t.png"
    path.write_text("mine", encoding="utf-8")
    for wrong, words in (
        (path, "exists already"),
        (tmp_path / "t.jpg", r"End it in \.png, \.svg, \.pdf"),
        (tmp_path / "no folder" / "t.png", "cannot be written"),
    ):
        with pytest.raises(BadInput, match=words):
            write_target_figure(target, wrong)
    assert [p.name for p in tmp_path.iterdir()] == ["t.png"]
    assert path.read_text(encoding="utf-8") == "mine"


def test_the_curves_are_the_rider_s_own_in_their_bands(target: Target) -> None:
    figure = draw_target(target)
    axis = curve_axis(figure, Channel.KNEE)
    line = next(one for one in axis.lines if len(np.asarray(one.get_xdata())) > 300)
    x, y = np.asarray(line.get_xdata()), np.asarray(line.get_ydata())
    assert (x[0], x[-1]) == (0.0, 360.0)
    assert y == pytest.approx(harmonics.evaluate(np.array(KNEE), np.radians(x)))
    heights = [
        float(np.ptp(np.asarray(one.get_paths()[0].vertices)[:, 1])) - float(np.ptp(y))
        for one in axis.collections
        if isinstance(one, PolyCollection)
    ]
    held = target.envelope(Channel.KNEE)
    scatter = 2 * 2.0 * resolution(target, Channel.KNEE).noise
    assert sorted(heights) == pytest.approx(sorted((2 * held.tol, scatter)))
    low, high = axis.get_ylim()
    assert low < y.min() - held.tol < y.max() + held.tol < high
    # 70 + 30 cos - 12 sin: 102.3 at atan2(-12, 30) = 338.2 degrees.
    assert "102.3\u00b0 at 338\u00b0" in [text.get_text() for text in axis.texts]


@pytest.mark.parametrize("channel", BODY_CHANNELS)
def test_each_channel_has_a_ruler_with_its_limits_scatter_and_what_it_tells(
    target: Target, channel: Channel
) -> None:
    axis = ruler(draw_target(target), channel)
    held, told = target.envelope(channel), resolution(target, channel)
    scale = 1.0 if held.unit == "deg" else NOMINAL_THIGH_MM
    low, high = axis.get_xlim()
    assert high > scale * held.tol
    assert (low > -scale * held.tol) == (channel is Channel.HAND_PLACE)
    uprights = {float(np.asarray(one.get_xdata())[0]) for one in axis.lines}
    assert any(x == pytest.approx(scale * held.tol) for x in uprights)
    assert any(x == pytest.approx(scale * held.inner) for x in uprights)
    diamonds = [float(np.asarray(o.get_xdata())[0]) for o in axis.lines if o.get_marker() == "D"]
    assert max(diamonds) == pytest.approx(scale * told.smallest)
    title = axis.get_title(loc="left")
    assert ("required" if held.required else "advisory") in title
    (words,) = (text.get_text() for text in axis.texts)
    assert f"SD {scale * told.stroke_sd:.2f}" in words
    assert f"fresh sit {scale * (told.fresh_sd or 0.0):.2f}" in words


def test_a_limit_within_the_noise_is_said_and_nothing_leaves_the_ruler(target: Target) -> None:
    figure = draw_target(target.with_tolerance(Channel.TORSO, 0.3))
    axis = ruler(figure, Channel.TORSO)
    assert axis.texts[0].get_text().endswith("tighter than the noise")
    assert "tighter" not in ruler(figure, Channel.HIP).texts[0].get_text()
    low, high = axis.get_xlim()
    places = np.concatenate([np.asarray(line.get_xdata(), float) for line in axis.lines])
    assert low < places.min() < places.max() < high


def test_the_head_names_the_target_as_it_is(target: Target) -> None:
    figure = draw_target(replace(target, note="$note$", author="A_B"))
    words = [text.get_text() for text in figure.texts]
    assert any(text.startswith("R_7 $x$ / bike / hoods") for text in words)
    assert any("by A_B" in text and "63 strokes in 3 sits" in text for text in words)
    assert "$note$" in words
    assert any("mm*: nominal" in text for text in words)


def test_one_sit_is_drawn_and_said(target: Target) -> None:
    envelopes = tuple(replace(e, resit_sd=None) for e in target.envelopes)
    figure = draw_target(replace(target, envelopes=envelopes, sits=(41,)))
    assert any("what a fresh sit adds is not known" in t.get_text() for t in figure.texts)
    for channel in BODY_CHANNELS:
        axis = ruler(figure, channel)
        assert "fresh sit not known" in axis.texts[0].get_text()
    assert {curve_axis(figure, channel) for channel in CURVES} <= set(figure.axes)
