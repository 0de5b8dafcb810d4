"""The operator's window as a window: what it says, its keys and marks, and how it closes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from made_operator_scenes import BEGUN_NS, of_watch, said, scene, shown, stands
from made_windows import has_colour, picture_of
from operator_room import NO, Room
from PySide6.QtCore import Qt
from PySide6.QtGui import QShortcut
from PySide6.QtWidgets import (
    QApplication,
    QDialog,
    QLabel,
    QListWidget,
    QPushButton,
    QWidget,
)
from pytestqt.qtbot import QtBot

from posewatch.core.envelope import Target, Unit
from posewatch.core.outputs import (
    CreepWarning,
    Phase,
    Reason,
)
from posewatch.core.records import NS_PER_S, Channel, Command, CommandKind
from posewatch.core.sources import TimedPicture
from posewatch.runtime import clock
from posewatch.runtime.engine import Shown
from posewatch.store.settings import Settings
from posewatch.studio import Doing, Studio
from posewatch.ui.keys import Act
from posewatch.ui.operator_view import State
from posewatch.ui.operator_window import OperatorWindow
from posewatch.ui.scene import Switches
from posewatch.ui.scenes import SceneMaker
from posewatch.ui.state_frame import StateFrame
from posewatch.ui.theme import DARK, LIGHT, Theme
from posewatch.watched_source import Source

SIZES = [(1280, 720), (1920, 1080)]


@pytest.fixture
def room(qtbot: QtBot, tmp_path: Path) -> Iterator[Room]:
    made = Room(qtbot, tmp_path)
    yield made
    made.engine.busy = False


def test_it_says_that_video_is_kept(room: Room) -> None:
    room.watch()
    room.show(of_watch(stands(), seconds=67.0))
    assert "video" not in room.texts()
    room.show(replace(of_watch(stands(), seconds=68.0), video="video is kept, faces blurred"))
    assert "video is kept, faces blurred" in room.texts()


def test_it_says_how_things_stand_in_large(room: Room) -> None:
    room.watch()
    room.show(of_watch(stands(pending=0), seconds=67.0))
    texts = room.texts()
    for words in ("counting", "1:07", "24 of 60", "16 s", "90", "counts"):
        assert words in texts
    assert room.studio.session is not None
    assert room.studio.session.name in texts
    assert "rider / bike / hoods / v1" in texts


@pytest.mark.parametrize("theme", [DARK, LIGHT])
def test_each_state_has_a_frame_of_its_own(qtbot: QtBot, theme: Theme) -> None:
    frame = StateFrame()
    frame.set_width(12)
    qtbot.addWidget(frame)
    frame.resize(400, 300)
    frame.show()
    seen = set()
    for state in State:
        frame.show_state(state, theme)
        covered = ~has_colour(picture_of(frame), theme.ground, 2)
        assert covered[:12].any()
        assert not covered[14:-14, 14:-14].any()
        seen.add(covered.tobytes())
    # By shape alone, whatever the colours.
    assert len(seen) == len(State)


@pytest.mark.parametrize(("wide", "high"), SIZES)
def test_everything_fits(room: Room, wide: int, high: int) -> None:
    room.watch()
    long = "The log cannot be written. " * 20
    room.window.resize(wide, high)
    room.show(of_watch(stands(), seconds=5.0, camera="The camera gives 14 pictures a second."))
    room.show(scene(Doing.NOTHING, 6.0, moment=None, error=long))
    QApplication.processEvents()
    assert (room.window.width(), room.window.height()) == (wide, high)
    for button in room.window.findChildren(QPushButton):
        if button.isVisible():
            corner = button.mapTo(room.window, button.rect().bottomRight())
            assert room.window.rect().contains(corner)
            assert button.width() >= button.sizeHint().width()


def test_no_button_takes_the_keyboard_and_space_presses_nothing(room: Room, qtbot: QtBot) -> None:
    room.watch()
    for button in room.window.findChildren(QPushButton):
        assert button.focusPolicy() is Qt.FocusPolicy.NoFocus
    for button in room.window.findChildren(QPushButton):
        if button.text().startswith("pause"):
            qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
    assert room.commands() == [(CommandKind.PAUSE, "paused")]
    room.press(qtbot, Qt.Key.Key_Space)
    assert room.commands() == []
    assert room.studio.doing is Doing.WATCH


def test_the_only_thing_to_type_in_is_reached_by_tab(room: Room, qtbot: QtBot) -> None:
    room.watch()
    room.press(qtbot, Qt.Key.Key_M)
    reachable = [
        part
        for part in room.window.findChildren(QWidget)
        if part.focusPolicy() & Qt.FocusPolicy.TabFocus and part.isEnabled() and part.isVisible()
    ]
    assert reachable == [room.label_line]
    assert room.label_line.accessibleName()


def test_a_mark_is_there_at_once_and_gets_the_logs_time(room: Room, qtbot: QtBot) -> None:
    room.watch()
    room.seconds = 14.04
    room.press(qtbot, Qt.Key.Key_M)
    assert room.rows("marks") == ["1   0:14.0"]
    assert room.commands() == [(CommandKind.MARK, "")]
    told = said(item=Command(round(13.9 * NS_PER_S), CommandKind.MARK))
    room.show(of_watch(stands(), seconds=14.1, said=(told,)))
    assert room.rows("marks") == ["1   0:13.9"]


@pytest.mark.parametrize("key", [Qt.Key.Key_M, Qt.Key.Key_PageDown, Qt.Key.Key_F13])
def test_a_bouncing_foot_switch_marks_once(room: Room, qtbot: QtBot, key: Qt.Key) -> None:
    room.watch()
    for seconds in (10.0, 10.02, 10.2, 10.3):
        room.seconds = seconds
        room.press(qtbot, key)
    assert room.rows("marks") == ["2   0:10.3", "1   0:10.0"]


def test_keys_that_are_held_down_act_once(room: Room) -> None:
    shortcuts = room.window.findChildren(QShortcut)
    assert len(shortcuts) > 15
    assert not any(one.autoRepeat() for one in shortcuts)


def test_a_label_is_typed_later_and_the_time_stays(room: Room, qtbot: QtBot) -> None:
    room.watch()
    room.seconds = 10.0
    room.press(qtbot, Qt.Key.Key_M)
    room.commands()
    line = room.label_line
    line.setFocus()
    room.seconds = 25.0
    # Keys of acts are letters here, and Return begins no trial.
    qtbot.keyClicks(line, "mop B")
    qtbot.keyClick(line, Qt.Key.Key_Return)
    assert room.commands() == [(CommandKind.LABEL, "1: mop B")]
    assert not line.hasFocus()
    room.show(of_watch(stands(), seconds=25.1))
    assert room.rows("marks") == ["1   0:10.0  mop B"]
    assert room.engine.names == [Doing.WATCH]
    assert line.text() == ""


def test_escape_leaves_a_label_as_it_was(room: Room, qtbot: QtBot) -> None:
    room.watch()
    room.press(qtbot, Qt.Key.Key_M)
    room.commands()
    room.label_line.setFocus()
    qtbot.keyClicks(room.label_line, "x")
    qtbot.keyClick(room.label_line, Qt.Key.Key_Escape)
    assert room.commands() == []
    assert not room.label_line.hasFocus()


def test_a_mark_taken_back_is_struck_through_and_stays(room: Room, qtbot: QtBot) -> None:
    room.watch()
    for seconds in (1.0, 2.0):
        room.seconds = seconds
        room.press(qtbot, Qt.Key.Key_M)
    room.seconds = 3.0
    room.press(qtbot, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert room.rows("marks") == ["2   0:02.0  (taken back)", "1   0:01.0"]
    lists = room.window.findChildren(QListWidget)
    found = next(one for one in lists if one.accessibleName().startswith("marks"))
    assert [found.item(row).font().strikeOut() for row in range(2)] == [True, False]
    assert room.commands()[-1] == (CommandKind.WITHDRAW, "2")


def test_messages_stay_until_they_are_read(room: Room, qtbot: QtBot) -> None:
    creep = CreepWarning(65 * NS_PER_S, Channel.TORSO, 1.8, 300 * NS_PER_S, Unit.DEG)
    room.watch()
    room.show(of_watch(stands(), seconds=66.0, said=(said(creep),)))
    for seconds in (70.0, 200.0):
        room.show(of_watch(stands(), seconds=seconds))
    (line,) = room.rows("messages")
    assert "1:05.0  creeping in band: torso" in line
    button = next(b for b in room.window.findChildren(QPushButton) if b.text() == "read (1)")
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
    assert room.rows("messages") == ["no messages"]


def test_what_cannot_be_done_is_a_message_and_nothing_modal(room: Room, qtbot: QtBot) -> None:
    room.studio.choose(source=None)
    room.press(qtbot, Qt.Key.Key_O)
    assert "no source is chosen" in room.rows("messages")[0]
    assert QApplication.activeModalWidget() is None
    assert room.window.findChildren(QDialog) == []


@pytest.mark.parametrize(
    ("key", "modifier", "words"),
    [
        (Qt.Key.Key_P, NO, (CommandKind.PAUSE, "paused")),
        (Qt.Key.Key_B, NO, (CommandKind.PAUSE, "rest")),
        (Qt.Key.Key_PageUp, NO, (CommandKind.PAUSE, "rest")),
    ],
)
def test_keys_of_a_watch(
    room: Room,
    qtbot: QtBot,
    key: Qt.Key,
    modifier: Qt.KeyboardModifier,
    words: tuple[CommandKind, str],
) -> None:
    room.watch()
    room.press(qtbot, key, modifier)
    assert room.commands() == [words]


def test_begin_and_end_by_their_keys(room: Room, qtbot: QtBot) -> None:
    room.show(scene(Doing.NOTHING, 0.0, moment=None))
    room.press(qtbot, Qt.Key.Key_Return)
    assert room.studio.doing is Doing.WATCH
    room.seconds = 1.0
    room.press(qtbot, Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier)
    assert room.engine.post.stop.is_set()


def test_keys_of_the_whole_program_are_bound_too(room: Room, qtbot: QtBot) -> None:
    room.press(qtbot, Qt.Key.Key_L)
    assert room.others == [Act.THEME]


def test_the_help_lists_every_key_and_goes_away_again(room: Room, qtbot: QtBot) -> None:
    room.watch()
    room.press(qtbot, Qt.Key.Key_F1)
    texts = room.texts()
    for act in Act:
        assert act in texts
    room.seconds = 1.0
    room.press(qtbot, Qt.Key.Key_M)
    assert len(room.rows("marks")) == 1
    room.press(qtbot, Qt.Key.Key_F1)
    assert str(Act.BRIGHTER) not in room.texts()


def test_closing_while_a_watch_runs_asks_and_going_on_is_the_safe_one(
    room: Room, qtbot: QtBot
) -> None:
    room.watch()
    assert not room.window.close()
    assert "A watch is running: end it and close?" in room.texts()
    assert QApplication.activeModalWidget() is None
    room.press(qtbot, Qt.Key.Key_Escape)
    room.show(of_watch(stands(), seconds=1.0))
    assert "A watch is running" not in room.texts()
    assert room.studio.doing is Doing.WATCH
    assert not room.engine.post.stop.is_set()
    assert room.window.isVisible()
    assert room.closed == 0


def test_an_unanswered_question_lets_the_watch_go_on(room: Room, qtbot: QtBot) -> None:
    room.watch()
    room.window.close()
    for key in (Qt.Key.Key_Space, Qt.Key.Key_Return, Qt.Key.Key_M):
        room.press(qtbot, key)
    room.show(of_watch(stands(), seconds=60.0))
    assert room.studio.doing is Doing.WATCH
    assert not room.engine.post.stop.is_set()


def test_ending_and_closing_waits_for_the_watchs_end(room: Room, qtbot: QtBot) -> None:
    room.watch()
    room.window.close()
    button = next(
        b for b in room.window.findChildren(QPushButton) if b.text().startswith("end it and close")
    )
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
    assert room.engine.post.stop.is_set()
    room.show(of_watch(stands(), seconds=1.0))
    assert room.window.isVisible()
    room.engine.finish()
    room.show(scene(Doing.NOTHING, 2.0, moment=None))
    assert not room.window.isVisible()
    assert room.closed == 1


def test_it_closes_at_once_where_nothing_runs(room: Room) -> None:
    assert room.window.close()
    assert room.closed == 1


def test_the_curtain_says_what_it_is_for(room: Room) -> None:
    room.show(scene(Doing.NOTHING, 0.0, moment=None))
    assert "camera closed: people may change clothes; key O opens it" in room.texts()


def test_a_picture_that_does_not_change_is_not_shown_as_of_now(room: Room) -> None:
    picture = TimedPicture(0, np.full((480, 640, 3), 200, np.uint8))
    room.watch()
    for seconds in (0.0, 0.9):
        room.show(scene(seconds=seconds, moment=shown(stands(), picture)))
        assert "no new picture" not in room.texts()
    # Time passes, told by moments with the same picture.
    room.show(scene(seconds=2.3, moment=shown(stands(), picture)))
    assert "no new picture since 2 s" in room.texts()
    fresh = TimedPicture(3 * NS_PER_S, picture.rgb)
    room.show(scene(seconds=3.0, moment=shown(stands(), fresh)))
    assert "no new picture" not in room.texts()


def test_from_grab_to_screen_is_measured(room: Room) -> None:
    picture = TimedPicture(0, np.full((480, 640, 3), 200, np.uint8))
    room.watch()
    moment: Shown = replace(shown(stands(), picture), grabbed_ns=BEGUN_NS)
    room.seconds = 0.041
    room.window.show_scene(scene(seconds=0.041, moment=moment))
    room.window.repaint()
    QApplication.processEvents()
    assert room.studio.post.health.read().paint.p50_ms == pytest.approx(41.0)


def test_unchanged_scenes_change_nothing(room: Room) -> None:
    """Numbers of the moment keep their place for a while, and the rest is as it was."""
    room.watch()
    room.show(of_watch(stands(), seconds=5.0))
    before = picture_of(room.window)
    room.show(of_watch(stands(), seconds=5.1))
    assert np.array_equal(before, picture_of(room.window))


def test_both_themes(room: Room) -> None:
    room.watch()
    room.show(of_watch(stands(), seconds=1.0, switches=Switches(theme=LIGHT)))
    light = picture_of(room.window)
    assert has_colour(light, LIGHT.ground, 2).mean() > 0.1
    assert not has_colour(light, "#FFFFFF", 0).any()
    room.show(of_watch(stands(), seconds=2.0))
    dark = picture_of(room.window)
    assert has_colour(dark, DARK.ground, 2).mean() > 0.1
    assert not has_colour(dark, LIGHT.ground, 2).any()


def test_the_reason_line_follows(room: Room) -> None:
    room.watch()
    room.show(of_watch(stands(Phase.STEADYING, steady=3), seconds=1.0))
    assert "steadying: 3 of 5" in room.texts()
    room.show(of_watch(stands(waiting=(Reason.HAND_OFF,)), seconds=2.0))
    assert "a hand is off its place" in room.texts()


def test_a_whole_watch_of_a_recording(
    qtbot: QtBot, tmp_path: Path, reference_recording: Path, ridden_target: Target
) -> None:
    """With the engine itself: begun by its key, shown to the end, closed."""
    studio = Studio(Settings(data_folder=tmp_path))
    studio.choose(source=Source(reference_recording, "full"), target=ridden_target)
    window, maker = OperatorWindow(studio), SceneMaker(studio)
    qtbot.addWidget(window)
    with qtbot.waitExposed(window):
        window.show()
    qtbot.keyClick(window, Qt.Key.Key_Return)

    def ended() -> bool:
        window.show_scene(maker.scene(Switches(), clock.monotonic_ns()))
        return bool(studio.done) and studio.doing is Doing.NOTHING

    qtbot.waitUntil(ended, timeout=60_000)
    ended()
    totals = studio.done[0][1].totals
    assert totals.n_counted > 20
    labels = {label.text() for label in window.findChildren(QLabel)}
    assert f"{totals.n_counted} of 60" in labels
    assert studio.done[0][0].name in "".join(labels)
    assert window.close()


def test_buttons_that_would_do_nothing_are_off(room: Room) -> None:
    room.show(scene(Doing.NOTHING, 0.0, moment=None))
    buttons = {b.text().split("  ")[0]: b for b in room.window.findChildren(QPushButton)}
    assert buttons["begin"].isEnabled()
    assert not any(buttons[name].isEnabled() for name in ("end", "pause", "rest", "mark"))
    room.watch()
    assert not buttons["begin"].isEnabled()
    assert all(buttons[name].isEnabled() for name in ("end", "pause", "rest", "mark"))
