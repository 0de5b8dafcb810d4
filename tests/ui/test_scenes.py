"""The scene of a poll: what was said is told once, what is wrong stays until it is well."""

from __future__ import annotations

from pathlib import Path

import pytest
from exact_rider import target
from idle_engine import IdleEngine, idle_studio
from made_live_sensors import AnsweringSensors
from made_operator_scenes import shown
from made_sensors import CRANK, pedalled

from posewatch.core.records import (
    CAMERA,
    NS_PER_S,
    PICTURE,
    VIDEO,
    SourceCondition,
    SourceState,
    Tick,
)
from posewatch.core.sensor_records import Packet
from posewatch.core.sensor_use import SensorUse
from posewatch.core.video_use import VideoUse
from posewatch.demo import sensor_recording
from posewatch.runtime.engine import Said
from posewatch.store.settings import Settings
from posewatch.studio import Studio
from posewatch.ui.scene import Switches
from posewatch.ui.scenes import DISK_NS, HEALTH_NS, SENSORS_NS, SceneMaker
from posewatch.watched_source import Source


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


@pytest.mark.parametrize("ends", [SourceCondition.LOST, SourceCondition.FULL])
def test_a_video_is_told_while_it_is_kept_and_that_it_ended(
    tmp_path: Path, ends: SourceCondition
) -> None:
    studio, engine = idle_studio(tmp_path, target())
    maker = SceneMaker(studio)
    studio.choose(source=Source(Path("clip.mp4"), "full"), video=VideoUse("agreed", True))
    assert maker.scene(Switches(), 0).video == ""
    studio.watch()
    assert maker.scene(Switches(), 1).video == ""
    say(studio, VIDEO, SourceCondition.RUNNING)
    assert maker.scene(Switches(), 2).video == "video is kept, faces blurred"
    say(studio, VIDEO, SourceCondition.SLOW)
    assert maker.scene(Switches(), 3).video == "video is kept, faces blurred"
    say(studio, VIDEO, ends)
    assert maker.scene(Switches(), 4).video == "video ENDED"
    assert maker.scene(Switches(), 5).camera == ""
    studio.end()
    engine.finish()
    assert maker.scene(Switches(), 6).video == ""


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


def test_live_sensors_are_looked_at_twice_a_second(studio: Studio) -> None:
    maker, live = SceneMaker(studio), AnsweringSensors(pedalled(CRANK, 0))
    studio.choose(sensors=SensorUse("Crank"))
    assert maker.scene(Switches(), 0).sensors == ()
    studio.live = live  # type: ignore[assignment]
    assert maker.scene(Switches(), SENSORS_NS - 1).sensors == ()
    (line,) = maker.scene(Switches(), SENSORS_NS).sensors
    assert (line.name, line.age_s, line.gives) == ("Crank", 0.5, "power")
    live.stands = ()
    times = range(SENSORS_NS, 2 * SENSORS_NS, SENSORS_NS // 10)
    assert all(maker.scene(Switches(), t).sensors == (line,) for t in times)
    assert maker.scene(Switches(), 2 * SENSORS_NS).sensors == ()
    assert NS_PER_S // SENSORS_NS <= 2


def test_recorded_sensors_are_those_of_the_watch_that_plays_them(studio: Studio) -> None:
    recording = sensor_recording("hoods_steady")
    studio.choose(sensors=SensorUse("Demo crank", recording=recording))
    maker = SceneMaker(studio)
    assert maker.scene(Switches(), 0).sensors == ()
    studio.engine = IdleEngine()
    studio.choose(source=Source(Path("ride.landmarks.npz"), "full"), target=target())
    studio.watch()
    packet = Packet(3 * NS_PER_S, "C0:DE:00:00:00:01", "2A63", bytes.fromhex("00001400"))
    studio.post.said.append(Said(packet, ()))
    studio.post.shown = shown(t_ns=4 * NS_PER_S)
    (line,) = maker.scene(Switches(), 1).sensors
    assert (line.name, line.age_s, line.gives) == ("Demo crank", 1.0, "power")
