"""A sitting at the program without windows: looking, capturing, watching, one after the other."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import pytest
from linkage_rider import ride
from made_live_sensors import AnsweringSensors
from made_rides import find_rider, write_ride
from made_videos import N_PICTURES, USE, short_clip

from posewatch.app import WatchResult
from posewatch.camera.kept_video import see_all
from posewatch.core.capture import Subject
from posewatch.core.envelope import Target
from posewatch.core.records import Command, CommandKind, Effort
from posewatch.core.sensor_choice import SensorChoice
from posewatch.core.sensor_use import SensorUse
from posewatch.demo import sensor_recording
from posewatch.errors import ChainMismatch
from posewatch.runtime import video_thread
from posewatch.runtime.engine import EngineState
from posewatch.sensing import LiveSensors
from posewatch.store.session_reader import SessionReader
from posewatch.store.settings import Settings
from posewatch.store.target_shelf import list_targets
from posewatch.studio import Doing, Studio
from posewatch.watched_source import Source

LIMIT_S = 30.0


@pytest.fixture
def studio(tmp_path: Path) -> Studio:
    return Studio(Settings(data_folder=tmp_path / "data"))


@pytest.fixture(scope="module")
def ridden(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_ride(tmp_path_factory.mktemp("ridden") / "r.landmarks.npz", ride(20.0, seed=5))


def test_a_video_is_kept_of_what_has_pictures(
    studio: Studio,
    ridden: Path,
    ridden_target: Target,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    find_rider(monkeypatch)
    monkeypatch.setattr(video_thread, "WAITING", 1000)
    studio.choose(target=ridden_target, any_chain=True, video=USE, consent="consent")
    assert studio.kept_video is None
    studio.choose(source=Source(ridden, "full", end_s=1.0))
    assert studio.kept_video is None
    studio.watch()
    assert studio.engine.wait(LIMIT_S)
    studio.choose(source=Source(short_clip(tmp_path / "clip.mkv"), "full"))
    assert studio.kept_video == USE
    studio.watch()
    assert studio.engine.wait(LIMIT_S)
    assert studio.error is None
    without, with_video = (folder for folder, _ in studio.done)
    assert not (without / "video").exists()
    assert see_all(with_video / "video").n_pictures == N_PICTURES
    with SessionReader(with_video) as session:
        marks = [item.text for _, item in session.inputs() if isinstance(item, Command)]
    assert marks == ["consent", USE.agreed]
    assert studio.chosen.agreements == f"consent; {USE.agreed}"


def test_a_whole_sitting(
    studio: Studio, reference_recording: Path, ridden: Path, tmp_path: Path
) -> None:
    assert studio.doing is Doing.NOTHING
    studio.choose(source=Source(reference_recording, "full"))
    studio.capture(Subject("r1", "b1", "hoods"))
    assert studio.engine.wait(LIMIT_S)
    assert studio.error is None
    found = studio.captured
    assert found is not None
    assert studio.post.counted is not None
    done, wanted = studio.post.progress
    assert abs(done - found.n_strokes) <= 3
    assert wanted == 60
    kept = studio.keep(found)
    assert [saved.name for saved in list_targets(studio.settings.data_folder)] == ["r1/b1/hoods/v1"]
    assert studio.chosen.target == kept

    studio.choose(source=Source(ridden, "full"), consent="consent v1 given by r1")
    studio.watch()
    assert studio.engine.wait(LIMIT_S)
    result = studio.engine.result
    assert isinstance(result, WatchResult)
    assert result.totals.n_counted > 15
    assert studio.session is not None
    assert studio.done == [(studio.session, result)]
    with SessionReader(studio.session) as session:
        first = next(item for _, item in session.inputs())
        assert first == Command(0, CommandKind.MARK, "consent v1 given by r1")
        assert len(list(session.intervals())) == 1
    shown = studio.post.shown
    assert shown is not None
    assert shown.standing is not None
    assert shown.standing.counted == result.totals.n_counted
    assert len(shown.crosses_px) == 8


def test_looking_shows_joints_and_logs_nothing(studio: Studio, ridden: Path) -> None:
    studio.choose(source=Source(ridden, "full"))
    studio.look()
    assert studio.engine.wait(LIMIT_S)
    shown = studio.post.shown
    assert shown is not None
    assert shown.standing is None
    assert shown.tracked is not None
    assert shown.tracked.body.seen
    assert studio.post.chain is not None
    assert studio.session is None
    assert not (studio.settings.data_folder / "sessions").exists()


def test_commands_reach_a_paced_watch_and_it_ends_when_asked(
    studio: Studio, ridden: Path, ridden_target: Target
) -> None:
    studio.choose(source=Source(ridden, "full", paced=True), target=ridden_target)
    studio.watch()
    assert studio.post.ready.wait(LIMIT_S)
    studio.say(CommandKind.PAUSE, "rest")
    assert studio.paused == "rest"
    studio.say(CommandKind.MARK, "towel")
    studio.say(CommandKind.RESUME)
    assert studio.paused == ""
    assert studio.doing is Doing.WATCH
    assert studio.engine.state in (EngineState.RUNNING, EngineState.STARTING)
    while not (studio.post.shown and studio.post.shown.t_ns):
        assert studio.engine.is_busy
    assert studio.close()
    assert studio.session is not None
    with SessionReader(studio.session) as session:
        kinds = [item.kind for _, item in session.inputs() if isinstance(item, Command)]
    assert kinds == [CommandKind.PAUSE, CommandKind.MARK, CommandKind.RESUME]


def test_a_target_of_another_chain_faults_and_leaves_no_session(
    studio: Studio, ridden: Path, ridden_target: Target
) -> None:
    other = replace(ridden_target, chain=replace(ridden_target.chain, model_name="lite"))
    studio.choose(source=Source(ridden, "full"), target=other)
    studio.watch()
    assert studio.engine.wait(LIMIT_S)
    assert isinstance(studio.error, ChainMismatch)
    assert studio.engine.state is EngineState.FAULTED
    assert studio.doing is Doing.NOTHING
    assert studio.session is not None
    assert not studio.session.exists()


def test_nothing_begins_without_what_it_needs(studio: Studio, ridden: Path) -> None:
    with pytest.raises(RuntimeError, match="no source"):
        studio.look()
    studio.choose(source=Source(ridden, "full"))
    with pytest.raises(RuntimeError, match="no target"):
        studio.watch()
    studio.say(CommandKind.MARK)
    assert studio.doing is Doing.NOTHING


class Opened:
    """The live sensors that a studio has opened, in order."""

    def __init__(self) -> None:
        self.choices: list[list[str]] = []
        self.live: list[AnsweringSensors] = []

    def __call__(self, choices: Sequence[SensorChoice]) -> LiveSensors:
        self.choices.append([one.name for one in choices])
        self.live.append(AnsweringSensors())
        return self.live[-1]  # type: ignore[return-value]


@pytest.fixture
def opened() -> Opened:
    return Opened()


@pytest.fixture
def sensed(studio: Studio, opened: Opened, ridden: Path, ridden_target: Target) -> Iterator[Studio]:
    """A studio that is about to watch with a meter and a trainer."""
    studio.follow_live = opened
    studio.choose(
        source=Source(ridden, "full"),
        target=ridden_target,
        sensors=SensorUse("Crank", trainer="Trainer"),
        trainer=SensorChoice("Trainer"),
    )
    yield studio
    studio.close()


def watch(studio: Studio) -> None:
    """Watch to the end of the source."""
    studio.watch()
    assert studio.engine.wait(LIMIT_S)
    assert studio.error is None


def test_live_sensors_stay_for_the_next_watch_but_hold_no_power(
    sensed: Studio, opened: Opened
) -> None:
    assert sensed.live is None
    watch(sensed)
    watch(sensed)
    (live,) = opened.live
    assert opened.choices == [["Crank", "Trainer"]]
    assert sensed.live is live
    assert live.told() == ["release Trainer"] * 2
    assert not live.closed
    assert sensed.close()
    assert live.closed
    assert sensed.live is None


def test_other_sensors_are_opened_anew(sensed: Studio, opened: Opened) -> None:
    watch(sensed)
    sensed.choose(sensors=SensorUse("Pedal"), trainer=None)
    watch(sensed)
    assert opened.choices == [["Crank", "Trainer"], ["Pedal"]]
    assert [one.closed for one in opened.live] == [True, False]
    assert opened.live[1].told() == [], "there is no trainer to let go of"


def test_a_watch_that_fails_lets_go_of_the_trainer(sensed: Studio, opened: Opened) -> None:
    target = sensed.chosen.target
    assert target is not None
    other = replace(target, chain=replace(target.chain, model_name="lite"))
    sensed.choose(target=other)
    sensed.watch()
    assert sensed.engine.wait(LIMIT_S)
    assert isinstance(sensed.error, ChainMismatch)
    assert opened.live[0].told() == ["release Trainer"]


def test_recorded_sensors_and_none_open_no_bluetooth(sensed: Studio, opened: Opened) -> None:
    sensed.choose(sensors=SensorUse(), trainer=None)
    watch(sensed)
    recording = sensor_recording("hoods_steady")
    sensed.choose(sensors=SensorUse("Demo crank", recording=recording))
    watch(sensed)
    assert opened.live == []
    assert sensed.session is not None
    with SessionReader(sensed.session) as session:
        assert any(isinstance(item, Effort) for _, item in session.inputs())


def test_sensors_are_closed_while_a_watch_is_still_ending(
    sensed: Studio, opened: Opened, ridden: Path
) -> None:
    sensed.choose(source=Source(ridden, "full", paced=True))
    sensed.watch()
    assert sensed.post.ready.wait(LIMIT_S)
    assert sensed.close()
    assert opened.live[0].closed


def test_lines_are_logged_in_the_watch_under_way_or_the_next(sensed: Studio, ridden: Path) -> None:
    sensed.choose(consent="consent v1 given by r1")
    sensed.log("offset taken between")
    watch(sensed)
    sensed.choose(source=Source(ridden, "full", paced=True))
    sensed.watch()
    assert sensed.post.ready.wait(LIMIT_S)
    sensed.log("offset taken within")
    while not (sensed.post.shown and sensed.post.shown.t_ns):
        assert sensed.engine.is_busy
    sensed.close()
    texts = []
    for folder, _ in sensed.done:
        with SessionReader(folder) as session:
            texts.append([i.text for _, i in session.inputs() if isinstance(i, Command)])
    consent = "consent v1 given by r1"
    assert texts == [[consent, "offset taken between"], [consent, "offset taken within"]]
