"""The scene of a poll: what was said is told once, what is wrong stays until it is well."""

from __future__ import annotations

from pathlib import Path

import pytest

from posewatch.core.records import CAMERA, PICTURE, SourceCondition, SourceState, Tick
from posewatch.runtime.engine import Said
from posewatch.store.settings import Settings
from posewatch.studio import Studio
from posewatch.ui.scene import Switches
from posewatch.ui.scenes import DISK_NS, HEALTH_NS, SceneMaker, free_bytes


@pytest.fixture
def studio(tmp_path: Path) -> Studio:
    return Studio(Settings(data_folder=tmp_path / "not" / "yet"))


def say(studio: Studio, source: str, condition: SourceCondition, text: str = "") -> None:
    studio.post.said.append(Said(SourceState(0, source, condition, text), ()))


def test_what_was_said_is_told_in_one_scene(studio: Studio) -> None:
    maker = SceneMaker(studio)
    studio.post.said.append(Said(Tick(1), ()))
    studio.post.said.append(Said(Tick(2), ()))
    assert [one.item.t_ns for one in maker.scene(Switches(), 0).said] == [1, 2]
    assert maker.scene(Switches(), 1).said == ()


def test_what_is_wrong_with_the_camera_stays_until_it_runs(studio: Studio) -> None:
    maker = SceneMaker(studio)
    say(studio, CAMERA, SourceCondition.LOST, "No picture comes.")
    say(studio, PICTURE, SourceCondition.DARK, "It is dark.")
    assert maker.scene(Switches(), 0).camera == "No picture comes."
    assert maker.scene(Switches(), 1).camera == "No picture comes."
    say(studio, CAMERA, SourceCondition.RUNNING)
    assert maker.scene(Switches(), 2).camera == "It is dark."
    say(studio, PICTURE, SourceCondition.RUNNING)
    assert maker.scene(Switches(), 3).camera == ""


def test_a_new_job_begins_with_a_clean_slate(studio: Studio) -> None:
    maker = SceneMaker(studio)
    say(studio, CAMERA, SourceCondition.LOST, "No picture comes.")
    maker.scene(Switches(), 0)
    studio.engine.start("another", lambda post: None)
    assert studio.engine.wait(5.0)
    assert maker.scene(Switches(), 1).camera == ""


def test_figures_are_made_anew_now_and_then(studio: Studio) -> None:
    maker = SceneMaker(studio)
    first = maker.scene(Switches(), 0).health
    studio.post.health.handled()
    assert maker.scene(Switches(), HEALTH_NS - 1).health is first
    assert maker.scene(Switches(), HEALTH_NS).health.n_handled == 1
    assert first.disk_free_bytes > 0
    studio.post.health.disk_free_bytes = 5
    assert maker.scene(Switches(), DISK_NS - 1).health.disk_free_bytes == 5
    assert maker.scene(Switches(), DISK_NS + HEALTH_NS).health.disk_free_bytes > 5


def test_free_space_is_that_of_the_folder_that_will_hold_it(tmp_path: Path) -> None:
    assert free_bytes(tmp_path / "a" / "b") == pytest.approx(free_bytes(tmp_path), rel=0.05)
