"""The fitter's window, from a capture to a target on the shelf."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from fitter_hands import Desk, fitter_at_work, open_saved
from made_fitter_scenes import scene
from plot_mouse import drag
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QWheelEvent
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractSpinBox,
    QApplication,
    QCheckBox,
    QComboBox,
    QLineEdit,
    QProgressBar,
    QPushButton,
    QRadioButton,
    QWidget,
)
from pytestqt.qtbot import QtBot

from posewatch.core.envelope import Target
from posewatch.core.records import Channel
from posewatch.store.target_shelf import read_target, save_target
from posewatch.ui.fitter_window import STEPS
from posewatch.ui.theme import DARK, LIGHT

RECORDED = Path(__file__).parents[2] / "demo_clips" / "landmarks"
THREE_SITS = RECORDED / "three_sits.landmarks.npz"


@pytest.fixture
def desk(qtbot: QtBot, tmp_path: Path) -> Iterator[Desk]:
    with fitter_at_work(qtbot, tmp_path / "data") as made:
        yield made


@pytest.fixture
def opened(desk: Desk, ridden_target: Target) -> Desk:
    """A window with rider/bike/hoods/v1 open in it."""
    return open_saved(desk, ridden_target)


def test_a_position_is_captured_changed_compared_and_kept(desk: Desk) -> None:
    qtbot, window = desk.qtbot, desk.window
    assert STEPS in desk.words
    desk.write_whose("rider 7", "road", "hoods")
    desk.write("author", "A. Fitter")
    desk.answer = THREE_SITS
    desk.press("Recording or clip\N{HORIZONTAL ELLIPSIS}")
    assert "From: three_sits.landmarks.npz" in desk.words
    desk.press("Start the capture")

    said: set[str] = set()
    most = [0, 0, 0]

    def is_done() -> bool:
        said.add(window.head.title.text())
        bars = window.capture_panel.findChildren(QProgressBar)
        most[:] = [max(n, bar.value()) for n, bar in zip(most, bars, strict=True)]
        return window.desk.target is not None

    desk.until(is_done)
    assert most == [20, 20, 20]
    # A recording is read faster than any eye is: what is seen for sure is its end.
    assert "All three sits have their strokes: end the capture." in said
    assert desk.target.sits == (31, 27, 29)
    assert (desk.target.rider, desk.target.author) == ("rider 7", "A. Fitter")
    assert "Captured 87 strokes" in desk.words
    assert "31 + 27 + 29 strokes in 3 sits" in desk.words
    # The clip's hips slide from sit to sit, more than the default limit of 8 mm can bear.
    assert "Tighter than the noise: a rider exactly in position would get" in desk.words

    # The strokes that it was made of are drawn as soon as they are read again.
    desk.until(lambda: window.desk.traces is not None and window.desk.traces.n > 80)
    assert len(window.plot._means.points()) == 10

    desk.type_limit("sitting place", "11.3")
    assert desk.tol(Channel.SITTING_PLACE) == pytest.approx(11.5)
    assert desk.limit("sitting place").value() == 11.5
    assert window.rows.channel is Channel.SITTING_PLACE
    assert "Tighter than the noise" not in desk.words
    qtbot.mouseClick(desk.find(QRadioButton, "show torso"), Qt.MouseButton.LeftButton)
    drag(window.plot, 200.0, 3.0, 2.0)
    assert desk.tol(Channel.TORSO) == pytest.approx(2.0, abs=0.11)
    assert desk.limit("torso").value() == pytest.approx(window.plot.limit)
    held = desk.find(QComboBox, "hip required or advisory")
    qtbot.keyClick(held, Qt.Key.Key_Down)
    assert not desk.target.envelope(Channel.HIP).required
    desk.press("undo (Ctrl+Z)")
    assert desk.target.envelope(Channel.HIP).required
    desk.press("Redo")
    assert not desk.target.envelope(Channel.HIP).required

    desk.write("note", "saddle 5 mm back")
    desk.press("Keep as a new version")
    assert "Kept as rider 7/road/hoods/v1." in desk.words
    document = desk.kept("rider 7/road/hoods/v1")
    channels = {one["channel"]: one for one in document["envelopes"]}
    assert document["note"] == "saddle 5 mm back"
    assert document["author"] == "A. Fitter"
    assert document["created"]
    assert not channels["hip"]["required"]
    assert channels["torso"]["tol"] == pytest.approx(desk.tol(Channel.TORSO))
    assert channels["sitting place"]["tol"] == pytest.approx(11.5 / 430.0)
    assert desk.studio.chosen.target == desk.target
    # What the rider is watched with is not the recording.
    assert desk.studio.chosen.source is None
    assert not desk.find(QPushButton, "Keep as a new version").isEnabled()
    assert "Nothing was changed since it was kept." in desk.words


def test_a_saved_version_is_opened_changed_and_kept_as_the_next_one(opened: Desk) -> None:
    first = opened.kept("rider/bike/hoods/v1")
    assert "rider / bike / hoods  v1" in opened.words
    assert opened.studio.chosen.target == opened.target
    opened.type_limit("knee", "3.0")
    assert opened.window.head.title.text() == "rider / bike / hoods  v1"
    opened.press("Keep as a new version")
    assert "Kept as rider/bike/hoods/v2." in opened.words
    second = opened.kept("rider/bike/hoods/v2")
    assert opened.kept("rider/bike/hoods/v1") == first
    tols = [
        next(e["tol"] for e in document["envelopes"] if e["channel"] == "knee")
        for document in (first, second)
    ]
    assert tols == [4.0, 3.0]
    versions = opened.find(QComboBox, "saved version")
    assert [versions.itemText(i) for i in range(versions.count())] == ["v2", "v1"]


def test_a_tight_limit_is_kept_only_with_a_word(opened: Desk) -> None:
    keep, tick = (
        opened.find(QPushButton, "Keep as a new version"),
        opened.find(QCheckBox, "Keep tight limits all the same"),
    )
    assert not tick.isVisible()
    opened.type_limit("torso", "0.1")
    assert tick.isVisible()
    assert not keep.isEnabled()
    assert "Tighter than the noise: it is" in opened.words
    tick.setChecked(True)
    assert keep.isEnabled()
    # A word for one limit is none for another.
    opened.type_limit("knee", "0.1")
    assert not tick.isChecked()
    assert not keep.isEnabled()
    tick.setChecked(True)
    opened.press("Keep as a new version")
    kept = read_target("rider/bike/hoods/v2", opened.folder)
    assert kept.envelope(Channel.TORSO).tol == pytest.approx(0.1)


def test_the_undo_key_takes_a_typed_limit_back_where_it_was_typed(opened: Desk) -> None:
    opened.type_limit("torso", "2.5")
    box = opened.limit("torso")
    assert opened.tol(Channel.TORSO) == 2.5
    opened.qtbot.keyClick(box, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert opened.tol(Channel.TORSO) == 3.0
    assert box.value() == 3.0


def turn_wheel(widget: QWidget) -> None:
    place = QPointF(widget.rect().center())
    event = QWheelEvent(
        place,
        widget.mapToGlobal(place),
        QPoint(),
        QPoint(0, 120),
        Qt.MouseButton.NoButton,
        Qt.KeyboardModifier.NoModifier,
        Qt.ScrollPhase.NoScrollPhase,
        False,
    )
    QApplication.sendEvent(widget, event)


def test_arrows_step_a_limit_and_a_wheel_that_passes_does_not(opened: Desk) -> None:
    opened.qtbot.keyClick(opened.limit("torso"), Qt.Key.Key_Up)
    assert opened.tol(Channel.TORSO) == pytest.approx(3.1)
    opened.qtbot.keyClick(opened.limit("hand place"), Qt.Key.Key_Down)
    assert opened.tol(Channel.HAND_PLACE) == pytest.approx(19.5)
    opened.find(QLineEdit, "note").setFocus()
    turn_wheel(opened.limit("torso"))
    turn_wheel(opened.find(QComboBox, "pelvis height required or advisory"))
    assert opened.tol(Channel.TORSO) == pytest.approx(3.1)
    assert not opened.target.envelope(Channel.PELVIS_HEIGHT).required
    opened.limit("torso").setFocus()
    turn_wheel(opened.limit("torso"))
    assert opened.tol(Channel.TORSO) == pytest.approx(3.2)


def test_the_last_required_channel_stays_required_on_the_screen_too(opened: Desk) -> None:
    names = ["torso", "knee", "hip", "sitting place", "hand place"]
    for name in names:
        held = opened.find(QComboBox, f"{name} required or advisory")
        opened.qtbot.keyClick(held, Qt.Key.Key_Down)
    assert [e.channel for e in opened.target.envelopes if e.required] == [Channel.HAND_PLACE]
    assert "No channel would be required" in opened.words
    assert opened.find(QComboBox, "hand place required or advisory").currentText() == "required"


def test_a_version_is_compared_with_another_one(opened: Desk, ridden_target: Target) -> None:
    torso = ridden_target.envelope(Channel.TORSO)
    moved = replace(torso, centre=((torso.centre[0][0] + 2.0, *torso.centre[0][1:]),))
    others = [e for e in ridden_target.envelopes if e.channel is not Channel.TORSO]
    save_target(replace(ridden_target, envelopes=(moved, *others)), opened.folder)
    opened.window.desk.reload()
    opened.poll()
    choice = opened.find(QComboBox, "compare with a saved version")
    choice.setFocus()
    opened.qtbot.keyClick(choice, Qt.Key.Key_Down)
    assert choice.currentText() == "with rider/bike/hoods/v2"
    assert "\N{BLACK CIRCLE} \N{MINUS SIGN}2.00\N{DEGREE SIGN}" in opened.words
    assert opened.window.plot._others[0].yData == pytest.approx(2.0)
    opened.qtbot.keyClick(choice, Qt.Key.Key_Up)
    assert len(opened.window.plot._others[0].xData) == 0
    assert "told from" not in opened.words


def test_a_poll_that_brings_nothing_new_paints_nothing(
    opened: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    painted: list[str] = []
    for widget, name in (
        (opened.window.plot, "show_channel"),
        (opened.window.plot, "show_strokes"),
        (opened.window.rows, "show_channels"),
        (opened.window.keep_panel, "show_editing"),
        (opened.window.comparison, "show_difference"),
        (opened.window.capture_panel, "show_count"),
        (opened.window.capture_panel, "show_shelf"),
    ):
        monkeypatch.setattr(widget, name, lambda *_, name=name: painted.append(name))
    for _ in range(5):
        opened.poll()
    assert painted == []
    opened.window.desk.set_tolerance(Channel.TORSO, 2.0)
    opened.poll()
    assert set(painted) == {
        "show_channel",
        "show_strokes",
        "show_channels",
        "show_editing",
        "show_difference",
    }


def test_every_control_has_a_name_and_is_reached_by_tab_from_the_first_one(opened: Desk) -> None:
    kinds = (QAbstractButton, QAbstractSpinBox, QComboBox, QLineEdit)
    controls = [
        w
        for kind in kinds
        for w in opened.window.findChildren(kind)
        if w.isVisible() and not isinstance(w.parentWidget(), QComboBox | QAbstractSpinBox)
    ]
    assert len(controls) > 25
    for control in controls:
        assert control.accessibleName() or control.text().strip(), control
    wanted = {w for w in controls if w.isEnabled() and not isinstance(w, QRadioButton)}
    reached: set[QWidget] = set()
    at: QWidget = opened.window
    for _ in range(200):
        at = at.nextInFocusChain()
        if at.focusPolicy() & Qt.FocusPolicy.TabFocus:
            reached.add(at)
    assert {w.accessibleName() for w in wanted} <= {w.accessibleName() for w in reached}
    # Whose position it is comes first, keeping it last.
    order = [w for w in controls if isinstance(w, QComboBox)]
    assert order[0].accessibleName() == "rider"


def test_both_themes_are_painted_in_their_own_colours(opened: Desk) -> None:
    for theme in (LIGHT, DARK):
        opened.window.show_scene(scene(opened.studio, theme))
        seen = opened.window.grab().toImage()
        assert seen.pixelColor(2, 300).name() == theme.ground.lower()
        assert seen.pixelColor(opened.window.width() - 20, 90).name() == theme.panel.lower()
