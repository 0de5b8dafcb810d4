"""What the fitter's window asks for is done: captures, versions, strokes to look at."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from fitter_hands import Desk, fitter_at_work, open_saved
from linkage_rider import Pose, ride
from made_fitter_scenes import scene
from made_rides import write_ride
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLineEdit, QPushButton
from pytestqt.qtbot import QtBot

from posewatch import live_jobs
from posewatch.core import tracking
from posewatch.core.capture import Subject
from posewatch.core.capture_progress import CaptureProgress
from posewatch.core.envelope import Target
from posewatch.core.records import Channel
from posewatch.runtime.engine import Post, Shown
from posewatch.studio import Doing, Studio
from posewatch.watched_source import Source

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


def fake_capture(
    monkeypatch: pytest.MonkeyPatch, counts: tuple[int, ...], result: Target | Exception
) -> None:
    """Let a capture count so many strokes and end, when asked to, in a target or an error."""

    def capture_live(source: Source, subject: Subject, post: Post) -> Target:
        post.counted = CaptureProgress(counts, "" if counts[-1] else "nobody is found")
        post.ready.set()
        post.stop.wait(20.0)
        if isinstance(result, Exception):
            raise result
        return replace(result, rider=subject.rider, note=subject.note)

    monkeypatch.setattr(live_jobs, "capture_live", capture_live)


def begin(desk: Desk) -> None:
    desk.studio.choose(source=Source(Path(), "full", live="0"))
    desk.write_whose("new rider", "bike", "hoods")
    desk.poll()
    desk.press("Start the capture")
    desk.until(lambda: desk.studio.doing is Doing.CAPTURE and desk.studio.post.ready.is_set())
    desk.poll()


def test_a_capture_is_ended_early_by_its_key(
    desk: Desk, ridden_target: Target, monkeypatch: pytest.MonkeyPatch
) -> None:
    fake_capture(monkeypatch, (43,), ridden_target)
    begin(desk)
    assert "Ended now, the target cannot tell what a fresh sit adds." in desk.words
    assert not desk.find(QPushButton, "Start the capture").isVisible()
    end = desk.find(QPushButton, "End the capture (Ctrl+Return)")
    assert end.isVisible()
    # No hand that leans on the keyboard presses it.
    assert end.focusPolicy() == Qt.FocusPolicy.NoFocus
    # Nothing that asks with a dialog can be reached while somebody rides.
    assert not desk.find(QPushButton, "Recording or clip\N{HORIZONTAL ELLIPSIS}").isEnabled()
    assert not desk.window.strokes_from.isEnabled()
    desk.qtbot.keyClick(desk.window, Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier)
    desk.until(lambda: not desk.window.desk.is_capturing)
    assert desk.target.rider == "new rider"
    assert desk.studio.chosen.source == Source(Path(), "full", live="0")
    assert desk.find(QPushButton, "Start the capture").isVisible()


def test_it_opens_for_the_subject_that_was_chosen_at_set_up(opened: Desk) -> None:
    opened.window.open_for(Subject("rider", "", "drops", "wider bars", "A. Fitter"))
    assert opened.window.capture_panel.whose == ("rider", "bike", "drops")
    assert opened.window.desk.target is None
    assert opened.find(QLineEdit, "note").text() == "wider bars"
    assert opened.find(QLineEdit, "author").text() == "A. Fitter"
    assert not opened.window.plot.isVisible()


def test_a_target_that_is_not_kept_yet_stays_on_the_table(opened: Desk) -> None:
    opened.type_limit("knee", "3.0")
    opened.window.open_for(Subject("rider", "bike", "drops"))
    assert opened.tol(Channel.KNEE) == 3.0
    assert opened.window.capture_panel.whose == ("rider", "bike", "drops")


def test_the_next_sit_is_asked_for_large(
    desk: Desk, ridden_target: Target, monkeypatch: pytest.MonkeyPatch
) -> None:
    fake_capture(monkeypatch, (22, 20), ridden_target)
    begin(desk)
    assert desk.window.head.title.text() == (
        "Sit 2 is full. Leave the saddle, sit down again and pedal on."
    )


def test_why_nothing_counts_is_said_large(
    desk: Desk, ridden_target: Target, monkeypatch: pytest.MonkeyPatch
) -> None:
    fake_capture(monkeypatch, (0,), ridden_target)
    begin(desk)
    assert desk.window.head.title.text() == "Not counting: nobody is found."


def test_a_capture_leaves_changes_that_were_not_kept_within_reach(
    opened: Desk, ridden_target: Target, monkeypatch: pytest.MonkeyPatch
) -> None:
    opened.type_limit("knee", "3.0")
    before = opened.target
    fake_capture(monkeypatch, (43,), ridden_target)
    begin(opened)
    opened.press("End the capture (Ctrl+Return)")
    opened.until(lambda: opened.target.rider == "new rider")
    assert "Last: captured new rider / bike / hoods" in opened.words
    opened.press("undo (Ctrl+Z)")
    assert opened.target == before


def test_a_preview_is_closed_before_the_capture_begins(
    desk: Desk, ridden_target: Target, monkeypatch: pytest.MonkeyPatch
) -> None:
    def look(source: Source, post: Post) -> None:
        post.ready.set()
        post.stop.wait(20.0)

    monkeypatch.setattr(live_jobs, "look", look)
    fake_capture(monkeypatch, (43,), ridden_target)
    desk.studio.choose(source=Source(Path(), "full", live="0"))
    desk.studio.look()
    assert desk.studio.doing is Doing.PREVIEW
    begin(desk)
    assert desk.studio.doing is Doing.CAPTURE


def test_no_capture_begins_while_a_trial_is_under_way(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk.studio.choose(source=Source(THREE_SITS, "full"))
    desk.poll()
    monkeypatch.setattr(Studio, "doing", property(lambda self: Doing.WATCH))
    desk.write_whose("rider", "bike", "hoods")
    desk.press("Start the capture")
    desk.poll()
    assert "The camera is in use (watching): end that first." in desk.words
    assert not desk.window.desk.is_capturing


def test_a_name_that_no_file_can_have_is_refused_before_anybody_rides(desk: Desk) -> None:
    desk.studio.choose(source=Source(THREE_SITS, "full"))
    desk.write_whose("a/b", "bike", "hoods")
    desk.poll()
    desk.press("Start the capture")
    assert "The rider cannot be called 'a/b'" in desk.words
    assert desk.studio.doing is Doing.NOTHING


def test_a_ride_that_makes_no_target_says_why(desk: Desk, tmp_path: Path) -> None:
    desk.answer = write_ride(tmp_path / "short.landmarks.npz", ride(12.0))
    desk.write_whose("rider", "bike", "hoods")
    desk.press("Recording or clip\N{HORIZONTAL ELLIPSIS}")
    desk.press("Start the capture")
    desk.until(lambda: not desk.window.desk.is_capturing)
    assert "good strokes were found in short.landmarks.npz" in desk.words
    assert desk.window.note.objectName() == "trouble"
    assert desk.window.desk.target is None


def test_strokes_of_a_watch_are_drawn_as_they_are_ridden(opened: Desk) -> None:
    target = opened.target
    state = tracking.with_target(tracking.start(target.chain, None), target)
    for frame in ride(8.0, lambda t_s, deg: Pose(deg, torso_deg=46.0), seed=5):
        state, tracked = tracking.step(state, frame)
        shown = Shown(frame.t_ns, None, 0, np.empty((0, 2)), tracked, None)
        now = replace(scene(opened.studio), doing=Doing.WATCH, shown=shown)
        opened.window.show_scene(now)
    means = [spot.pos().y() for spot in opened.window.plot._means.points()]
    assert len(means) == 10
    assert means == pytest.approx([4.0] * 10, abs=0.5)
    newest = opened.window.plot._traces[-2]
    assert np.nanmean(newest.yData) == pytest.approx(4.0, abs=0.6)
    # Another limit moves the band and leaves the strokes.
    opened.type_limit("torso", "5")
    assert [spot.symbol() for spot in opened.window.plot._means.points()] == ["d"] * 10


def test_recorded_strokes_are_drawn_and_those_of_another_camera_refused(
    opened: Desk, tmp_path: Path, reference_recording: Path
) -> None:
    opened.answer = reference_recording
    opened.press("Show strokes of recorded landmarks\N{HORIZONTAL ELLIPSIS}")
    opened.until(lambda: opened.window.desk.traces is not None and opened.window.desk.traces.n > 40)
    assert len(opened.window.plot._means.points()) == 10
    opened.answer = tmp_path / "ride.mp4"
    opened.press("Show strokes of recorded landmarks\N{HORIZONTAL ELLIPSIS}")
    assert "ride.mp4 is no recorded landmarks" in opened.words
    opened.answer = tmp_path / "missing.landmarks.npz"
    opened.press("Show strokes of recorded landmarks\N{HORIZONTAL ELLIPSIS}")
    assert "There is no recording" in opened.words


def test_choosing_no_file_changes_nothing(desk: Desk) -> None:
    desk.answer = None
    desk.press("Recording or clip\N{HORIZONTAL ELLIPSIS}")
    assert desk.window.desk.recording is None
    assert not desk.find(QPushButton, "Start the capture").isEnabled()


def test_a_recording_is_let_go_for_the_camera_again(desk: Desk) -> None:
    desk.studio.choose(source=Source(Path(), "full", live="camera 1"))
    desk.answer = THREE_SITS
    desk.press("Recording or clip\N{HORIZONTAL ELLIPSIS}")
    assert "From: three_sits.landmarks.npz" in desk.words
    desk.press("capture from the camera")
    assert "From: camera 1" in desk.words
