"""The rider's window as a window: what it paints, its keys, its screens."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from made_scenes import body, live, power, scene, standing
from made_windows import has_colour, picture_of
from PySide6.QtCore import QEvent, QObject, Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QApplication, QWidget
from pytestqt.qtbot import QtBot

from posewatch.core.records import NS_PER_S, Channel
from posewatch.studio import Doing
from posewatch.ui.bead_tray import BeadTray
from posewatch.ui.body_mark import BodyMark
from posewatch.ui.keys import Act
from posewatch.ui.mark_shapes import OUTLINE
from posewatch.ui.rider_window import RiderWindow, dimmed
from posewatch.ui.scene import Switches
from posewatch.ui.theme import DARK, LIGHT

SIZES = [(1280, 720), (1920, 1080), (1024, 768), (1080, 1920)]


@pytest.fixture
def window(qtbot: QtBot) -> RiderWindow:
    made = RiderWindow()
    qtbot.addWidget(made)
    made.resize(1280, 720)
    return made


class Paints(QObject):
    """Counts what is painted."""

    def __init__(self, *widgets: QWidget) -> None:
        super().__init__()
        self.counts = {type(widget): 0 for widget in widgets}
        for widget in widgets:
            widget.installEventFilter(self)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() is QEvent.Type.Paint:
            self.counts[type(watched)] += 1  # type: ignore[index]
        return False


@pytest.mark.parametrize(("wide", "high"), SIZES)
def test_symbol_and_digits_are_large_enough_to_read_from_the_saddle(
    window: RiderWindow, wide: int, high: int
) -> None:
    window.resize(wide, high)
    window.show_scene(scene(standing(), said=(power(203.0),)))
    picture = picture_of(window)
    short = min(wide, high)
    fill = np.argwhere(has_colour(picture, DARK.held, 4))
    outline = OUTLINE / (1 - OUTLINE)  # half of it lies on the fill, half beside, above and below
    assert (1 + 2 * outline) * np.ptp(fill[:, 0]) >= short / 3
    digits = has_colour(picture_of(window._numbers[0][0]), DARK.text, 4)
    # Upright, two numbers side by side are a little smaller in a font as wide as the one here.
    assert np.ptp(np.flatnonzero(digits.any(axis=1))) >= short / (6 if wide > high else 6.2)


@pytest.mark.parametrize(("wide", "high"), SIZES)
def test_nothing_lies_on_anything_else(window: RiderWindow, wide: int, high: int) -> None:
    window.resize(wide, high)
    window.show_scene(
        scene(standing(), said=(power(203.0),), switches=Switches(no_sound="no loudspeaker"))
    )
    parts = [part for part in window.children() if isinstance(part, QWidget)]
    parts.remove(window._no_sound)
    assert len(parts) == 7
    for number, part in enumerate(parts):
        assert window.rect().contains(part.geometry())
        for other in parts[number + 1 :]:
            assert not part.geometry().intersects(other.geometry())


def test_a_scene_that_looks_the_same_is_not_painted_again(
    window: RiderWindow, qtbot: QtBot
) -> None:
    window.show()
    qtbot.waitExposed(window)
    window.show_scene(scene(standing()))
    window.show_scene(scene(standing(), monotonic_ns=105 * NS_PER_S))
    QApplication.processEvents()
    paints = Paints(window.findChild(BodyMark), window.findChild(BeadTray))
    for poll in range(30):
        window.show_scene(scene(standing(), monotonic_ns=106 * NS_PER_S + poll * 33_000_000))
    QApplication.processEvents()
    assert paints.counts == {BodyMark: 0, BeadTray: 0}
    window.show_scene(scene(standing(counted=13), monotonic_ns=110 * NS_PER_S))
    qtbot.waitUntil(lambda: paints.counts[BeadTray] == 1)
    assert paints.counts[BodyMark] == 0


def test_each_state_looks_different(window: RiderWindow) -> None:
    value = live(Channel.TORSO, 1.5)
    cue = standing(cue=Channel.TORSO, direction="lower, bend elbows", live=body(value))
    changes: list[dict[str, Any]] = [
        {"doing": Doing.NOTHING},
        {"stands": standing()},
        {"stands": standing(), "paused": "rest"},
        {"stands": cue},
        {"stands": standing(counted=60)},
    ]
    seen = set()
    for number, one in enumerate(changes):
        window.show_scene(scene(one.pop("stands", None), monotonic_ns=number * NS_PER_S, **one))
        seen.add(picture_of(window).tobytes())
    assert len(seen) == len(changes)


def test_the_words_for_those_who_cannot_see_it_follow_the_picture(window: RiderWindow) -> None:
    assert window.accessibleName() == "posewatch: rider"
    window.show_scene(scene(doing=Doing.NOTHING))
    assert window.accessibleDescription() == "camera closed"
    window.show_scene(scene(standing(), monotonic_ns=101 * NS_PER_S))
    assert window.accessibleDescription() == "in position; 12 of 60 strokes counted; 90 rpm"


def test_no_sound_has_a_badge(window: RiderWindow) -> None:
    window.show_scene(scene(standing()))
    assert window._no_sound.isHidden()
    window.show_scene(scene(standing(), switches=Switches(no_sound="no loudspeaker")))
    assert not window._no_sound.isHidden()


@pytest.mark.parametrize("theme", [DARK, LIGHT])
def test_the_brightness_dims_everything(window: RiderWindow, theme: Any) -> None:
    means = []
    for number, brightness in enumerate((1.0, 0.5)):
        switches = Switches(brightness=brightness, theme=theme)
        now_ns = (100 + number) * NS_PER_S
        window.show_scene(scene(standing(), switches=switches, monotonic_ns=now_ns))
        means.append(picture_of(window).mean(axis=(0, 1)))
    np.testing.assert_allclose(means[1], 0.5 * means[0], atol=1.5)
    assert dimmed(theme, 1.0) == theme


def test_no_theme_shines_purely_white(window: RiderWindow) -> None:
    window.show_scene(scene(standing(), switches=Switches(theme=LIGHT)))
    assert not has_colour(picture_of(window), "#FFFFFF", 5).any()


def test_it_never_takes_the_keyboard_beside_another_window(window: RiderWindow) -> None:
    assert window.testAttribute(Qt.WidgetAttribute.WA_ShowWithoutActivating)
    assert window.windowFlags() & Qt.WindowType.WindowDoesNotAcceptFocus
    assert window.cursor().shape() is Qt.CursorShape.BlankCursor


def test_alone_its_keys_work(qtbot: QtBot) -> None:
    done: list[Act] = []
    window = RiderWindow({Act.REST: lambda: done.append(Act.REST)}, alone=True)
    qtbot.addWidget(window)
    window.show()
    window.activateWindow()
    qtbot.waitUntil(window.isActiveWindow)
    qtbot.keyClick(window, Qt.Key.Key_B)
    assert done == [Act.REST]
    qtbot.keyClick(window, Qt.Key.Key_F)
    assert window.isFullScreen()
    qtbot.keyClick(window, Qt.Key.Key_F)
    assert not window.isFullScreen()


def test_it_moves_to_a_screen_by_name_and_stays_full(window: RiderWindow, qtbot: QtBot) -> None:
    name = QGuiApplication.primaryScreen().name()
    window.fill_screen()
    window.fill_screen()
    assert window.isFullScreen()
    assert window.move_to_screen(name)
    assert window.isFullScreen()
    window.to_next_screen()
    assert window.screen_name == name
    assert window.isFullScreen()
    assert not window.move_to_screen("no such screen")


def test_neither_title_nor_parts_name_what_is_compared(window: RiderWindow) -> None:
    window.show_scene(scene(standing(), error="saddle B failed", camera="saddle B"))
    texts = [window.windowTitle(), window.accessibleName(), window.accessibleDescription()]
    assert not any("saddle" in text for text in texts)
