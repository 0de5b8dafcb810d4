"""Set-up's acts: the camera opens only after consent, choices reach the studio, gaps the record."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pytest
from linkage_rider import CHAIN
from made_profiles import saved
from made_setup_scenes import STEP_NS, StillEngine, grey, moment, scene_of, still_studio

from posewatch.core.envelope import Target
from posewatch.core.measuring_chain import PointSource
from posewatch.core.needs import Need, Readiness, can_begin
from posewatch.core.records import NS_PER_S
from posewatch.runtime.engine import EngineState
from posewatch.store.camera_shelf import save_profile
from posewatch.store.remembered import Memory
from posewatch.store.target_shelf import save_target
from posewatch.studio import Doing, Studio
from posewatch.ui.setup_choices import CameraChoice, TargetChoice
from posewatch.ui.setup_desk import Desk
from posewatch.ui.setup_view import WITHOUT, Step

SIDE = CameraChoice("cam-1", "Side camera", "number 0", 0)
LAPTOP = CameraChoice("cam-2", "Laptop camera", "number 2", 2)
START = 1000 * NS_PER_S
WALL_NS = 1_740_820_272 * NS_PER_S


@dataclass
class Sitting:
    """A desk with a still engine, on a data folder of its own."""

    desk: Desk
    studio: Studio
    engine: StillEngine
    memory: Memory
    now_ns: int = START

    def polls(self, seconds: float = 0.2, **changes: Any) -> None:
        """Time passes; an open camera gives pictures."""
        for _ in range(round(seconds * 30)):
            if self.studio.engine.state is EngineState.RUNNING:
                self.studio.post.shown = moment(self.now_ns, grey(0.5))
            self.desk.follow(scene_of(self.studio, self.now_ns, **changes))
            self.now_ns += STEP_NS

    def look(self, seconds: float = 4.0) -> None:
        """The camera that is wanted opens and gives pictures."""
        self.polls(0.1)
        self.engine.opened(self.desk.target.chain if self.desk.target else CHAIN)
        self.polls(seconds)

    def level(self, need: Need) -> Readiness:
        return next(one.level for one in self.desk.lines if one.need is need)


@pytest.fixture
def target(ridden_target: Target, tmp_path: Path) -> Target:
    made = replace(ridden_target, rider="r17", bike="road")
    kept, _ = save_target(made, tmp_path / "data")
    return kept


def sit_down(tmp_path: Path, **last: Any) -> Sitting:
    memory = Memory(tmp_path / "remembered.json")
    if last:
        memory.keep(**last)
    studio, engine = still_studio(tmp_path / "data")
    desk = Desk(studio, memory, lambda: (SIDE, LAPTOP), lambda: WALL_NS)
    return Sitting(desk, studio, engine, memory)


def test_no_camera_opens_before_the_rider_has_agreed(tmp_path: Path) -> None:
    sitting = sit_down(tmp_path)
    desk = sitting.desk
    desk.begin_new()
    desk.go(Step.CAMERA)
    desk.pick_camera(SIDE)
    sitting.polls()
    assert sitting.engine.started == []
    assert "until the rider has agreed" in desk.note
    desk.agree("r17")
    desk.open_camera()
    sitting.polls()
    assert sitting.engine.started == [Doing.PREVIEW]
    assert sitting.studio.chosen.consent.startswith("consent v3 given by r17 2025-03-01T")


def test_the_only_or_usual_camera_is_looked_at_at_once(tmp_path: Path) -> None:
    sitting = sit_down(tmp_path, camera="cam-2", camera_name="Laptop camera")
    sitting.desk.begin_new()
    sitting.desk.agree("r17")
    sitting.polls()
    assert sitting.desk.setup.camera == LAPTOP
    assert sitting.engine.started == [Doing.PREVIEW]
    source = sitting.studio.chosen.source
    assert source is not None
    assert (source.live, source.camera, source.paced) == ("cam-2", None, True)


def test_a_new_rider_from_nothing_to_begin(tmp_path: Path, target: Target) -> None:
    sitting = sit_down(tmp_path)
    desk = sitting.desk
    desk.begin_new()
    desk.agree("r17")
    desk.pick_camera(SIDE)
    sitting.look()
    desk.use_camera()
    assert desk.setup.step is Step.PROFILE
    desk.use_profile(WITHOUT)
    assert desk.setup.step is Step.TARGET
    desk.use_target(desk.targets[0])
    assert desk.setup.step is Step.SENSORS
    desk.use_sensors()
    assert desk.setup.step is Step.READY
    sitting.look()
    assert sitting.level(Need.TARGET) is Readiness.READY
    assert can_begin(desk.lines)
    assert "camera profile: gap" in desk.gaps()
    begun: list[Doing] = []
    desk.leave(lambda: begun.append(sitting.studio.doing))
    sitting.polls()
    assert begun == [Doing.NOTHING]
    assert sitting.studio.chosen.target == target
    choices = Memory(sitting.memory.path).choices
    assert (choices.camera, choices.camera_name, choices.profile, choices.target) == (
        *("cam-1", "Side camera", None),
        "r17/road/hoods/v1",
    )


def test_same_as_last_time_asks_for_consent_and_rider_and_nothing_else(
    tmp_path: Path, target: Target
) -> None:
    sitting = sit_down(
        tmp_path, camera="cam-1", camera_name="Side camera", target="r17/road/hoods/v1"
    )
    desk = sitting.desk
    desk.begin_same()
    sitting.polls()
    assert desk.setup.step is Step.READY
    assert sitting.engine.started == []
    desk.go(Step.CONSENT)
    desk.agree("r17")
    assert desk.setup.step is Step.READY
    desk.open_camera()
    sitting.look()
    assert sitting.level(Need.RIDER) is Readiness.UNCHECKED
    desk.rider_asked()
    sitting.polls()
    assert sitting.level(Need.RIDER) is Readiness.READY
    assert can_begin(desk.lines)


def test_another_riders_consent_does_not_do_for_the_target(tmp_path: Path, target: Target) -> None:
    sitting = sit_down(tmp_path, camera="cam-1", target="r17/road/hoods/v1")
    sitting.desk.begin_same()
    sitting.desk.agree("r2")
    assert sitting.desk.target is None
    assert sitting.studio.chosen.target is None
    assert sitting.desk.setup.step is Step.TARGET


def test_a_profile_is_read_and_the_camera_opened_anew_with_it(tmp_path: Path) -> None:
    save_profile(saved(name="studio", bike="road"), tmp_path / "data")
    sitting = sit_down(tmp_path)
    desk = sitting.desk
    desk.begin_new()
    desk.agree("r17")
    desk.pick_camera(SIDE)
    sitting.look(1.0)
    desk.use_profile("studio/v1")
    sitting.polls()
    assert sitting.engine.started == [Doing.PREVIEW, Doing.PREVIEW]
    source = sitting.studio.chosen.source
    assert source is not None
    assert source.camera is not None
    assert source.camera.profile == saved().profile


def test_a_profile_that_is_gone_is_told_and_not_chosen(tmp_path: Path) -> None:
    sitting = sit_down(tmp_path)
    sitting.desk.begin_new()
    sitting.desk.go(Step.PROFILE)
    sitting.desk.use_profile("gone/v1")
    assert "There is no camera gone/v1" in sitting.desk.note
    assert sitting.desk.setup.profile is None
    assert sitting.desk.setup.step is Step.PROFILE


def test_a_target_of_dots_is_watched_by_its_dots_and_with_its_model(
    tmp_path: Path, target: Target
) -> None:
    chain = replace(target.chain, points=PointSource.DOTS, model_name="lite")
    save_target(replace(target, hands="drops", chain=chain), tmp_path / "data")
    sitting = sit_down(tmp_path)
    desk = sitting.desk
    desk.begin_new()
    desk.agree("r17")
    desk.pick_camera(SIDE)
    sitting.look(1.0)
    desk.use_target(next(one for one in desk.targets if one.hands == "drops"))
    sitting.polls()
    source = sitting.studio.chosen.source
    assert source is not None
    assert (source.dots, source.model) == (True, "lite")
    assert len(sitting.engine.started) == 2


def test_what_was_typed_wrongly_is_told(tmp_path: Path) -> None:
    sitting = sit_down(tmp_path)
    sitting.desk.begin_new()
    sitting.desk.type_camera("nothing.mp4")
    assert sitting.desk.note.startswith("There is no file nothing.mp4.")
    assert sitting.desk.setup.camera is None


def test_the_curtain_closes_and_opens(tmp_path: Path) -> None:
    sitting = sit_down(tmp_path)
    desk = sitting.desk
    desk.begin_new()
    desk.agree("r17")
    desk.pick_camera(SIDE)
    sitting.look(1.0)
    assert desk.runs
    desk.toggle_camera()
    sitting.polls()
    assert sitting.studio.doing is Doing.NOTHING
    assert not desk.runs
    desk.go(Step.CAMERA)
    sitting.polls()
    assert sitting.studio.doing is Doing.NOTHING
    desk.toggle_camera()
    sitting.polls()
    assert sitting.studio.doing is Doing.PREVIEW


def test_why_a_camera_closed_by_itself_is_told(tmp_path: Path) -> None:
    sitting = sit_down(tmp_path)
    desk = sitting.desk
    desk.begin_new()
    desk.agree("r17")
    desk.pick_camera(SIDE)
    sitting.look(1.0)
    sitting.engine.end(RuntimeError("The camera was taken away. Plug it in."))
    sitting.polls(1.0)
    camera = next(one for one in desk.lines if one.need is Need.CAMERA)
    assert camera.level is Readiness.MISSING
    assert camera.advice == "The camera was taken away. Plug it in."


def test_a_target_captured_elsewhere_is_taken_over(tmp_path: Path, target: Target) -> None:
    sitting = sit_down(tmp_path)
    desk = sitting.desk
    desk.begin_new()
    desk.agree("r17")
    desk.pick_camera(SIDE)
    desk.use_profile(WITHOUT)
    desk.place("road", "drops")
    sitting.polls()
    kept = sitting.studio.keep(replace(target, hands="drops"))
    sitting.polls()
    assert desk.target is kept
    assert desk.setup.target == "r17/road/drops/v1"
    assert desk.setup.step is Step.SENSORS
    assert TargetChoice("r17/road/drops/v1", "r17", "road", "drops") in desk.targets


def test_the_list_changes_at_most_twice_a_second(tmp_path: Path) -> None:
    sitting = sit_down(tmp_path)
    sitting.desk.begin_new()
    sitting.desk.agree("r17")
    sitting.desk.pick_camera(SIDE)
    sitting.look(0.1)
    seen = set()
    for rate_hz in range(60):
        sitting.polls(1 / 30, rate_hz=float(rate_hz))
        seen.add(sitting.desk.lines)
    assert len(seen) <= 5


def test_what_the_memory_could_not_read_is_told_at_the_beginning(tmp_path: Path) -> None:
    (tmp_path / "remembered.json").write_text("{", encoding="utf-8")
    assert "not known" in sit_down(tmp_path).desk.note
