"""The live picture: its proportions, its crosses, and that it is never mistaken for now."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from made_operator_scenes import shown
from made_windows import has_colour, picture_of
from PySide6.QtCore import QRect
from pytestqt.qtbot import QtBot

from posewatch.core.records import FloatArray
from posewatch.core.sources import TimedPicture
from posewatch.runtime.engine import Shown
from posewatch.ui.live_picture import LivePicture, letterbox
from posewatch.ui.theme import DARK

#: The left half of the picture and its upper half are told apart by colour.
LEFT, RIGHT = "#20A0E0", "#804020"
SIZE = (640, 480)


def moment(wide: int = 640, high: int = 480, crosses_px: FloatArray | None = None) -> Shown:
    rgb = np.empty((high, wide, 3), np.uint8)
    rgb[:, : wide // 2] = (0x20, 0xA0, 0xE0)
    rgb[:, wide // 2 :] = (0x80, 0x40, 0x20)
    made = shown(picture=TimedPicture(0, rgb))
    return made if crosses_px is None else replace(made, crosses_px=crosses_px)


def view(qtbot: QtBot, wide: int = 600, high: int = 300) -> LivePicture:
    made = LivePicture()
    qtbot.addWidget(made)
    made.resize(wide, high)
    with qtbot.waitExposed(made):
        made.show()
    return made


@pytest.mark.parametrize(
    ("size", "box", "place"),
    [
        ((640, 480), QRect(0, 0, 600, 300), QRect(100, 0, 400, 300)),
        ((640, 480), QRect(0, 0, 300, 600), QRect(0, 187, 300, 225)),
        ((1920, 1080), QRect(0, 0, 960, 540), QRect(0, 0, 960, 540)),
        ((480, 640), QRect(10, 20, 300, 320), QRect(40, 20, 240, 320)),
    ],
)
def test_proportions_are_kept_in_the_middle(
    size: tuple[int, int], box: QRect, place: QRect
) -> None:
    assert letterbox(size, box) == place


def test_the_picture_is_not_mirrored_and_has_bars_beside_it(qtbot: QtBot) -> None:
    widget = view(qtbot)
    widget.show_moment(moment(), "", "", SIZE, DARK)
    picture = picture_of(widget)
    left, right = (np.argwhere(has_colour(picture, colour, 3)) for colour in (LEFT, RIGHT))
    assert (left[:, 1].min(), left[:, 1].max()) == pytest.approx((100, 299), abs=1)
    assert (right[:, 1].min(), right[:, 1].max()) == pytest.approx((300, 499), abs=1)
    assert has_colour(picture, DARK.panel, 1)[:, :98].all()


def test_crosses_are_small_and_where_the_joints_are(qtbot: QtBot) -> None:
    joints = np.array([[160.0, 240.0], [480.0, 120.0]])
    widget = view(qtbot)
    widget.show_moment(moment(crosses_px=joints), "", "", SIZE, DARK)
    plain = view(qtbot)
    plain.show_moment(moment(), "", "", SIZE, DARK)
    changed = np.argwhere((picture_of(widget) != picture_of(plain)).any(axis=2))
    # 600 x 300 shows 640 x 480 at 0.625, 100 px from the left.
    for x, y in joints:
        at = np.array([y * 0.625, 100 + x * 0.625])
        near = changed[np.abs(changed - at).max(axis=1) < 20]
        assert near.mean(axis=0) == pytest.approx(at, abs=1.0)
        assert np.ptp(near, axis=0).max() <= 14
    assert len(changed) < 2 * 14 * 8


def test_without_a_picture_crosses_stand_on_the_pictures_place(qtbot: QtBot) -> None:
    widget = view(qtbot)
    made = replace(shown(), crosses_px=np.array([[320.0, 240.0]]))
    widget.show_moment(made, "", "", SIZE, DARK)
    picture = picture_of(widget)
    assert has_colour(picture, DARK.text, 3)[145:156, 295:306].any()
    assert has_colour(picture, DARK.ground, 1)[200, 120:480].all()


def test_the_curtain_shows_nothing_of_the_picture(qtbot: QtBot) -> None:
    widget = view(qtbot)
    widget.show_moment(moment(), "", "", SIZE, DARK)
    picture_of(widget)
    widget.show_moment(moment(), "camera closed: people may change clothes", "", SIZE, DARK)
    picture = picture_of(widget)
    assert not has_colour(picture, LEFT, 30).any()
    assert not has_colour(picture, RIGHT, 30).any()
    assert has_colour(picture, DARK.text).any()
    assert widget.accessibleDescription().startswith("camera closed")


def test_an_old_picture_is_veiled_and_loses_its_crosses(qtbot: QtBot) -> None:
    joints = np.array([[160.0, 400.0]])
    widget = view(qtbot)
    widget.show_moment(moment(crosses_px=joints), "", "", SIZE, DARK)
    assert has_colour(picture_of(widget), LEFT, 3).any()
    widget.show_moment(moment(crosses_px=joints), "", "no new picture since 2 s", SIZE, DARK)
    picture = picture_of(widget)
    assert not has_colour(picture, LEFT, 30).any()
    assert not has_colour(picture, DARK.text, 3)[240:, 190:210].any()


def test_each_moment_is_told_as_painted_once(qtbot: QtBot) -> None:
    told: list[Shown] = []
    widget = LivePicture(told.append)
    qtbot.addWidget(widget)
    widget.resize(400, 300)
    with qtbot.waitExposed(widget):
        widget.show()
    first, second = moment(), moment()
    for one in (first, first, second):
        widget.show_moment(one, "", "", SIZE, DARK)
        widget.repaint()
        widget.repaint()
    assert [one is wanted for one, wanted in zip(told, (first, second), strict=True)] == [True] * 2


def test_a_picture_is_scaled_once(qtbot: QtBot) -> None:
    widget = view(qtbot)
    one = moment()
    widget.show_moment(one, "", "", SIZE, DARK)
    widget.repaint()
    scaled = widget._scaled
    assert scaled is not None
    assert (scaled.width(), scaled.height()) == (400, 300)
    # The same picture, a later moment: time passed without a new one.
    widget.show_moment(replace(one, t_ns=5), "", "", SIZE, DARK)
    widget.repaint()
    assert widget._scaled is scaled
    widget.resize(300, 300)
    widget.repaint()
    assert widget._scaled is not scaled


def test_a_picture_of_another_size_is_shown_in_its_own_proportions(qtbot: QtBot) -> None:
    widget = view(qtbot)
    widget.show_moment(moment(1920, 1080), "", "", SIZE, DARK)
    picture = picture_of(widget)
    assert has_colour(picture, LEFT, 3)[150, 40:295].all()
