"""Which visit set-up begins: a plan, a first look, one that was left; and why it cannot be."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from conducted import Conducted, Times, new_visit, small_design
from idle_engine import idle_studio
from made_codes import CHEAP

from posewatch.core.sensor_choice import SensorChoice
from posewatch.errors import BadInput
from posewatch.store.plan_file import read_plan
from posewatch.store.sealed_document import AlteredFile
from posewatch.store.visit_record import read_visit
from posewatch.studio import Studio
from posewatch.trials import acts
from posewatch.trials.words import ConcealmentLevel, SaddleMode
from posewatch.ui.sensor_plan import SensorPlan
from posewatch.ui.setup_choices import TargetChoice
from posewatch.ui.setup_view import Setup
from posewatch.ui.visit_choice import KINDS, NONE, VisitChoice
from posewatch.ui.visit_ride import Visiting

SETUP = Setup(rider="rider", bike="bike", hands="drops")
TARGETS = tuple(
    TargetChoice(f"{rider}/bike/{hands}/v1", rider, "bike", hands)
    for rider, hands in (("rider", "hoods"), ("rider", "drops"), ("r2", "aero"))
)


@pytest.fixture
def studio(tmp_path: Path) -> Studio:
    made, _ = idle_studio(tmp_path / "data", None)
    made.choose(consent="consent given by rider")
    return made


@pytest.fixture
def visits(studio: Studio) -> VisitChoice:
    return VisitChoice(studio, cost=CHEAP)


def closed(visits: VisitChoice) -> Path:
    assert visits.visiting is not None
    visits.close()
    return visits.visiting.visit.folder


def test_none_is_the_usual_choice(visits: VisitChoice) -> None:
    assert visits.words == NONE
    assert visits.open(SETUP) == ""
    assert visits.visiting is None


def test_a_plan_begins_a_visit_in_the_data_folder_only_when_it_is_opened(
    visits: VisitChoice, studio: Studio, tmp_path: Path
) -> None:
    design = small_design(concealment=ConcealmentLevel.ITEM_COVERED, mountings=2, n_visits=2)
    new = new_visit(tmp_path, design)
    visits.use_plan(str(new.plan_path), str(tmp_path / "codes.json"), "2", False)
    assert visits.words == "visit 2 of 2 of plan.json, 2 mountings"
    sessions = studio.settings.data_folder / "sessions"
    assert not sessions.exists()
    assert visits.open(SETUP) == ""
    assert visits.visiting is not None
    assert visits.visiting.number == 2
    folder = closed(visits)
    assert folder.parent == sessions
    header, kept = read_visit(folder)
    assert new.sealed is not None
    assert header.sealed_sha256 == new.sealed.sha256
    assert header.consent == "consent given by rider"
    assert header.fast, "the source is a recording"
    assert kept == ()


def test_from_a_camera_nothing_is_passed_over(
    visits: VisitChoice, studio: Studio, tmp_path: Path
) -> None:
    assert studio.chosen.source is not None
    studio.choose(source=replace(studio.chosen.source, live="cam-1"))
    new = new_visit(tmp_path, small_design())
    visits.use_plan(str(new.plan_path), "", "", False)
    assert visits.open(SETUP) == ""
    assert not read_visit(closed(visits))[0].fast


def test_what_cannot_be_used_is_refused_and_nothing_is_chosen(
    visits: VisitChoice, tmp_path: Path
) -> None:
    new = new_visit(tmp_path, small_design(concealment=ConcealmentLevel.ITEM_COVERED))
    plan, codes = str(new.plan_path), tmp_path / "codes.json"
    with pytest.raises(BadInput, match="No plan is given"):
        visits.use_plan(" ", "", "", False)
    with pytest.raises(BadInput, match="There is no plan file"):
        visits.use_plan(str(tmp_path / "gone.json"), "", "", False)
    with pytest.raises(BadInput, match="The plan has no visit 2"):
        visits.use_plan(plan, "", "2", False)
    with pytest.raises(BadInput, match="There is no code list file"):
        visits.use_plan(plan, str(tmp_path / "none.json"), "", False)
    codes.write_bytes(codes.read_bytes().replace(b'"n": 16', b'"n": 32'))
    with pytest.raises(AlteredFile):
        visits.use_plan(plan, str(codes), "", False)
    assert visits.wanted is None


def test_a_first_look_takes_all_hand_positions_the_chosen_one_first(
    visits: VisitChoice, studio: Studio
) -> None:
    power = SensorChoice("Crank", "AA:01")
    setup = replace(SETUP, sensors=SensorPlan(power=power, power_w=200.0, cadence_rpm=90.0))
    mode = f"saddle, {SaddleMode.SWAP}"
    visits.make_first_look(mode, ("", ""), setup, TARGETS, False)
    slip = visits.slip
    assert slip is not None
    assert slip.plan_path.parent == studio.settings.data_folder / "plans"
    design = read_plan(slip.plan_path).design
    assert design.hands == ("drops", "hoods")
    assert (design.saddle_mode, design.power_w, design.cadence_rpm) == (
        SaddleMode.SWAP,
        200.0,
        90.0,
    )
    assert "written down" in visits.open(setup)
    visits.written_down()
    assert visits.slip is None
    assert visits.open(setup) == ""
    header, _ = read_visit(closed(visits))
    assert set(header.codes) == {code for code, _ in slip.labels}
    assert header.sealed_sha256 == slip.sha256


def test_every_kind_can_be_looked_at_first(visits: VisitChoice) -> None:
    for kind in KINDS:
        visits.make_first_look(kind, ("", ""), SETUP, TARGETS, False)


def test_without_a_target_there_is_no_first_look(visits: VisitChoice) -> None:
    with pytest.raises(BadInput, match="No target is chosen"):
        visits.make_first_look("shorts", ("", ""), replace(SETUP, bike="gravel"), TARGETS, False)
    assert visits.slip is None


def test_a_rehearsal_keeps_nothing(visits: VisitChoice, studio: Studio, tmp_path: Path) -> None:
    new = new_visit(tmp_path, small_design())
    visits.use_plan(str(new.plan_path), "", "", True)
    assert visits.open(SETUP) == ""
    assert visits.visiting is not None
    assert visits.visiting.visit.header.rehearsal
    assert not (studio.settings.data_folder / "sessions").exists()
    folder = closed(visits)
    assert not folder.exists()


@pytest.mark.parametrize(
    ("setup", "why"),
    [
        (replace(SETUP, rider="r2"), "of rider on bike, and r2 on bike is set up"),
        (replace(SETUP, bike="gravel"), "rider on gravel is set up"),
        (SETUP, "holds 200 W and no sensor gives the power"),
    ],
)
def test_a_visit_of_others_or_without_its_sensor_is_not_opened(
    visits: VisitChoice, tmp_path: Path, setup: Setup, why: str
) -> None:
    new = new_visit(tmp_path, small_design(power_w=200.0))
    visits.use_plan(str(new.plan_path), "", "", False)
    assert why in visits.open(setup)
    assert visits.visiting is None


def left(tmp_path: Path, times: Times) -> Conducted:
    """A visit in the data folder that was left in the middle of a trial."""
    (tmp_path / "data").mkdir()
    at = Conducted(tmp_path, times)
    at.begin()
    at.mount()
    at.begin_trial()
    at.visit.close()
    sessions = tmp_path / "data" / "sessions"
    sessions.mkdir()
    at.visit.folder.rename(sessions / "visit")
    return at


def test_a_visit_that_was_left_is_gone_on_with(
    studio: Studio, tmp_path: Path, times: Times
) -> None:
    left(tmp_path, times)
    visits = VisitChoice(studio)
    (one,) = visits.left
    visits.go_on(one)
    assert visits.words.startswith("go on with ")
    assert "0 of 4 trials ridden" in visits.words or "1 of 4 trials ridden" in visits.words
    assert visits.open(SETUP) == ""
    folder = closed(visits)
    kept = [act.act for act in read_visit(folder)[1]]
    assert isinstance(kept[-2], acts.Reopened)
    assert isinstance(kept[-1], acts.TrialClosed)


def test_a_visit_that_was_left_is_closed_with_a_reason_and_kept(
    studio: Studio, tmp_path: Path, times: Times
) -> None:
    left(tmp_path, times)
    visits = VisitChoice(studio)
    (one,) = visits.left
    visits.go_on(one)
    with pytest.raises(BadInput, match="not said why"):
        visits.close_left(one, "  ")
    visits.close_left(one, " rider ill ")
    assert visits.left == ()
    assert visits.wanted is None
    ended = read_visit(one.folder)[1][-1].act
    assert isinstance(ended, acts.VisitEnded)
    assert ended.reason == "rider ill"


def test_one_that_never_began_is_not_closed(studio: Studio, tmp_path: Path) -> None:
    new = new_visit(tmp_path, small_design())
    visits = VisitChoice(studio)
    visits.use_plan(str(new.plan_path), "", "", False)
    visits.open(SETUP)
    closed(visits)
    again = VisitChoice(studio)
    with pytest.raises(BadInput, match="never began"):
        again.close_left(again.left[0], "not needed")


def test_a_visit_that_a_command_has_opened_stands(studio: Studio, at: Conducted) -> None:
    visits = VisitChoice(studio, Visiting(at.visit))
    assert visits.words == f"the one in {at.visit.folder}"
    assert "r2 on bike is set up" in visits.open(replace(SETUP, rider="r2"))
    assert visits.open(SETUP) == ""
    closed(visits)
