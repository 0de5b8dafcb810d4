"""The preview follows what is wanted, one job after the other, and gets out of others' way."""

from __future__ import annotations

from pathlib import Path

import pytest
from made_setup_scenes import StillEngine, still_studio

from posewatch.core.capture import Subject
from posewatch.studio import Doing, Studio
from posewatch.ui.viewfinder import Viewfinder
from posewatch.watched_source import Source

ONE, OTHER = Source(Path("one.mp4"), "full"), Source(Path("other.mp4"), "full")


@pytest.fixture
def studio_engine(tmp_path: Path) -> tuple[Studio, StillEngine]:
    return still_studio(tmp_path)


def poll(finder: Viewfinder, studio: Studio, times: int = 3) -> None:
    for _ in range(times):
        finder.follow(studio.doing)


def test_opens_once_and_stays_open(studio_engine: tuple[Studio, StillEngine]) -> None:
    studio, engine = studio_engine
    finder = Viewfinder(studio)
    finder.open(ONE)
    poll(finder, studio)
    assert engine.started == [Doing.PREVIEW]
    assert studio.chosen.source is ONE
    assert finder.is_wanted


def test_another_source_waits_for_the_end_of_the_first(
    studio_engine: tuple[Studio, StillEngine],
) -> None:
    studio, engine = studio_engine
    engine.ends_slowly = True
    finder = Viewfinder(studio)
    finder.open(ONE)
    poll(finder, studio)
    finder.open(OTHER)
    poll(finder, studio)
    assert len(engine.started) == 1
    assert studio.chosen.source is ONE
    engine.end()
    poll(finder, studio)
    assert len(engine.started) == 2
    assert studio.chosen.source is OTHER


def test_what_ends_by_itself_is_not_opened_again_but_on_wish(
    studio_engine: tuple[Studio, StillEngine],
) -> None:
    studio, engine = studio_engine
    finder = Viewfinder(studio)
    finder.open(ONE)
    poll(finder, studio)
    engine.end(RuntimeError("unplugged"))
    poll(finder, studio)
    assert finder.ended
    assert not finder.is_wanted
    assert len(engine.started) == 1
    finder.open(ONE)
    poll(finder, studio)
    assert len(engine.started) == 2
    assert not finder.ended


def test_then_is_called_once_and_only_when_the_camera_is_closed(
    studio_engine: tuple[Studio, StillEngine],
) -> None:
    studio, engine = studio_engine
    engine.ends_slowly = True
    finder, called = Viewfinder(studio), []
    finder.open(ONE)
    poll(finder, studio)
    finder.close(lambda: called.append(studio.doing))
    poll(finder, studio)
    assert called == []
    engine.end()
    poll(finder, studio)
    assert called == [Doing.NOTHING]


def test_a_capture_is_left_alone(studio_engine: tuple[Studio, StillEngine]) -> None:
    studio, engine = studio_engine
    finder = Viewfinder(studio)
    finder.close()
    poll(finder, studio)
    studio.choose(source=ONE)
    studio.capture(Subject("r17", "road", "hoods"))
    finder.open(OTHER)
    poll(finder, studio)
    assert not finder.is_wanted
    assert engine.is_busy
    assert engine.started == [Doing.CAPTURE]


def test_a_preview_of_others_is_left_alone(studio_engine: tuple[Studio, StillEngine]) -> None:
    studio, engine = studio_engine
    finder = Viewfinder(studio)
    studio.choose(source=ONE)
    studio.look()
    poll(finder, studio)
    assert engine.is_busy
