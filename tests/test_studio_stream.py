"""A network camera watched with the pose model: gone, told, back again, and replayed alike."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from mjpeg_server import Fault, MjpegServer, clip_pictures

from posewatch.app import WatchResult
from posewatch.bench.rides import SUBJECT
from posewatch.capturing import capture_target
from posewatch.core.records import CAMERA, SourceCondition, SourceState
from posewatch.demo import clip_profile, clips_folder, source
from posewatch.replaying import replay
from posewatch.runtime import clock
from posewatch.store.session_reader import SessionReader
from posewatch.store.settings import Settings
from posewatch.studio import Chosen, Studio
from posewatch.ui.scene import Switches
from posewatch.ui.scenes import SceneMaker
from posewatch.watched_source import Camera, Source

pytestmark = pytest.mark.model

PATIENCE_NS = 40_000_000_000
CLIP = "hoods_steady"


def until(what: Callable[[], bool]) -> None:
    end_ns = clock.monotonic_ns() + PATIENCE_NS
    while not what():
        assert clock.monotonic_ns() < end_ns


def test_a_camera_that_goes_is_told_on_the_screen_and_in_the_log_and_comes_back(
    tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    target = capture_target([source("hoods_reference", True, "full")], SUBJECT, lambda *_: None)
    with MjpegServer(clip_pictures(clips_folder() / f"{CLIP}.mp4", 300)) as server:
        camera = Camera(clip_profile(CLIP), None)
        live = Source(Path(), "full", camera=camera, live=server.url)
        studio = Studio(Settings(data_folder=tmp_path), Chosen(live, target))
        scenes = SceneMaker(studio)
        wrong: list[str] = []

        def camera_words() -> str:
            said = scenes.scene(Switches(), clock.monotonic_ns()).camera
            if said and said not in wrong:
                wrong.append(said)
            return said

        studio.watch()
        request.addfinalizer(studio.close)
        until(lambda: studio.post.shown is not None and camera_words() == "")
        server.fault = Fault.FROZEN
        until(lambda: camera_words() != "")
        server.fault = Fault.NONE
        until(lambda: camera_words() == "")
        assert studio.close()
    assert studio.error is None
    assert any("same picture" in words or "repeat" in words for words in wrong), wrong
    assert studio.session is not None
    with SessionReader(studio.session) as session:
        told = [i for _, i in session.inputs() if isinstance(i, SourceState)]
    conditions = [one.condition for one in told if one.source == CAMERA]
    assert conditions == [SourceCondition.LOST, SourceCondition.RUNNING]
    assert isinstance(studio.engine.result, WatchResult)
    assert replay(studio.session, lambda _: None).same
