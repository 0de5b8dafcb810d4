"""What keys do to the studio, in which order, and what is asked back."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from exact_rider import target
from idle_engine import IdleEngine, idle_studio

from posewatch.core.records import CommandKind
from posewatch.studio import Doing, Studio
from posewatch.ui.operator_acts import BOUNCE_NS, Asked, Bounce, OperatorActs


class Desk:
    """A studio, its engine, the acts on it and the notes that came of them."""

    def __init__(self, folder: Path) -> None:
        self.studio: Studio
        self.engine: IdleEngine
        self.studio, self.engine = idle_studio(folder, target())
        self.notes: list[str] = []
        self.acts = OperatorActs(self.studio, self.notes.append)

    def said(self) -> list[tuple[CommandKind, str]]:
        return [(c.kind, c.text) for c in self.studio.post.controls.taken(0, 0)]


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return Desk(tmp_path)


def test_begin_from_a_closed_camera(desk: Desk) -> None:
    desk.acts.begin()
    assert desk.studio.doing is Doing.WATCH
    desk.acts.begin()
    assert desk.engine.names == [Doing.WATCH]


def test_begin_from_a_preview_waits_for_its_end(desk: Desk) -> None:
    desk.acts.camera()
    assert desk.studio.doing is Doing.PREVIEW
    desk.acts.begin()
    desk.acts.follow()
    assert desk.engine.names == [Doing.PREVIEW]
    desk.engine.finish()
    desk.acts.follow()
    assert desk.engine.names == [Doing.PREVIEW, Doing.WATCH]
    desk.acts.follow()
    assert len(desk.engine.names) == 2


def test_without_a_target_nothing_begins_and_it_is_said(desk: Desk) -> None:
    desk.studio.choose(target=None)
    desk.acts.begin()
    assert desk.engine.names == []
    assert "No target is chosen" in desk.notes[0]


def test_without_a_source_it_is_said(desk: Desk) -> None:
    desk.studio.choose(source=None)
    desk.acts.camera()
    assert desk.notes == ["It cannot begin: no source is chosen."]


def test_the_camera_key_opens_closes_and_opens(desk: Desk) -> None:
    desk.acts.camera()
    desk.acts.camera()
    assert desk.engine.post.stop.is_set()
    desk.acts.camera()  # while it still closes
    desk.engine.finish()
    desk.acts.follow()
    assert desk.engine.names == [Doing.PREVIEW, Doing.PREVIEW]


@pytest.mark.parametrize(("ask", "asked"), [("camera", Asked.CAMERA), ("close", Asked.CLOSE)])
def test_what_would_end_a_watch_by_the_way_is_asked_back(
    desk: Desk, ask: str, asked: Asked
) -> None:
    desk.acts.begin()
    getattr(desk.acts, ask)()
    assert desk.acts.asked is asked
    assert not desk.engine.post.stop.is_set()
    desk.acts.go_on()
    assert desk.acts.asked is None
    assert not desk.engine.post.stop.is_set()
    getattr(desk.acts, ask)()
    desk.acts.end()
    assert desk.engine.post.stop.is_set()
    assert not desk.acts.may_close
    desk.engine.finish()
    assert desk.acts.may_close is (asked is Asked.CLOSE)


def test_a_question_falls_away_with_its_watch(desk: Desk) -> None:
    desk.acts.begin()
    desk.acts.close()
    desk.studio.end()
    desk.engine.finish()
    desk.acts.follow()
    assert desk.acts.asked is None
    assert not desk.acts.may_close


def test_a_preview_is_closed_without_asking(desk: Desk) -> None:
    desk.acts.camera()
    desk.acts.close()
    assert desk.acts.asked is None
    assert not desk.acts.may_close
    desk.engine.finish()
    assert desk.acts.may_close


def test_end_ends_a_watch_and_no_preview(desk: Desk) -> None:
    desk.acts.camera()
    desk.acts.end()
    assert not desk.engine.post.stop.is_set()
    desk.acts.camera()
    desk.engine.finish()
    desk.acts.begin()
    desk.acts.end()
    assert desk.engine.post.stop.is_set()


def test_pause_and_rest_go_on_by_their_own_keys(desk: Desk) -> None:
    desk.acts.begin()
    for word in ("paused", "rest", "rest", "paused", "paused"):
        desk.acts.pause(word)
    pause, resume = CommandKind.PAUSE, CommandKind.RESUME
    assert desk.said() == [
        (pause, "paused"),
        (pause, "rest"),
        (resume, ""),
        (pause, "paused"),
        (resume, ""),
    ]


def test_marks_are_said_at_once_and_named_and_taken_back_by_number(desk: Desk) -> None:
    desk.acts.begin()
    assert desk.acts.mark()
    assert desk.acts.name(1, "towel")
    assert desk.acts.withdraw(1)
    assert desk.said() == [
        (CommandKind.MARK, ""),
        (CommandKind.LABEL, "1: towel"),
        (CommandKind.WITHDRAW, "1"),
    ]


@pytest.mark.parametrize(
    "act",
    [
        lambda acts: acts.mark(),
        lambda acts: acts.name(1, "towel"),
        lambda acts: acts.withdraw(1),
    ],
)
def test_without_a_watch_no_mark_is_said(desk: Desk, act: Callable[[OperatorActs], bool]) -> None:
    assert not act(desk.acts)
    assert desk.said() == []
    assert len(desk.notes) == 1
    desk.acts.pause("paused")
    assert desk.said() == []


def test_a_switch_that_bounces_presses_once() -> None:
    now_ns = 0
    bounce = Bounce(lambda: now_ns)
    pressed = []
    for t_ms in (0, 5, 90, 249, 250, 260, 499, 501):
        now_ns = t_ms * 1_000_000
        pressed.append(bounce.accepts("mark"))
    assert pressed == [True, False, False, False, True, False, False, True]
    assert BOUNCE_NS == 250_000_000


def test_each_act_bounces_on_its_own() -> None:
    bounce = Bounce(lambda: 0)
    assert bounce.accepts("mark")
    assert bounce.accepts("rest")
    assert not bounce.accepts("rest")
