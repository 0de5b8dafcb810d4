"""``posewatch trial run`` with an answers file, and all that it refuses before anything begins."""

from __future__ import annotations

import json
import shutil
import sqlite3
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest
from command_runs import Run
from made_codes import NAMES
from visit_setting import Setting

from posewatch.checking import check_visit
from posewatch.core.envelope import Target
from posewatch.store.plan_file import read_plan
from posewatch.store.sealed_document import read_sealed
from posewatch.store.settings import load_settings
from posewatch.store.target_shelf import save_target
from posewatch.store.visit_record import read_visit
from posewatch.trials import acts
from posewatch.trials.concealment import names_in


def test_a_visit_that_nobody_attends(setting: Setting) -> None:
    facts = [{"item": "item 1", "fact": "weight", "value": 186}]
    ran = setting.conduct("--answers", setting.answers(operator="nobody", facts=facts))
    assert (ran.status, ran.err) == (0, "")
    assert ran.last_line == "counted 30 strokes in 3 trials of 3 mountings"
    header, kept = read_visit(setting.visit)
    codes = read_sealed(setting.codes)
    assert (header.codes, header.sealed_sha256) == (codes.codes, codes.sha256)
    assert codes.sha256 in ran.out
    assert isinstance(kept[-1].act, acts.VisitEnded)
    for code in codes.codes:
        assert code in ran.out
    # Items have no names anywhere but in the sealed list.
    assert names_in(ran.out, NAMES) == ()
    for path in setting.visit.rglob("*"):
        data = path.read_bytes().decode("latin-1") if path.is_file() else ""
        assert names_in(f"{path.relative_to(setting.folder)} {data}", NAMES) == (), path
    assert check_visit(setting.visit).all_wrong == []
    again = setting.conduct("--answers", setting.answers())
    assert (again.status, again.out.count("reset")) == (2, 0)
    assert "The visit" in again.err
    assert "is over" in again.err


def test_one_that_was_left_is_gone_on_with(setting: Setting) -> None:
    answers = setting.answers(notes=["fan on"])
    setting.conduct("--answers", answers)
    _cut_after_the_first_trial(setting.visit)
    ran = setting.run(
        *("trial", "run", "--session", setting.visit, "--answers", answers),
        *("--source", setting.recording),
    )
    assert (ran.status, ran.err) == (0, "")
    assert f"going on with {setting.visit}: visit 1, 1 of 3 trials ridden" in ran.out
    assert ran.last_line == "counted 30 strokes in 3 trials of 3 mountings"
    found = setting.kept()
    assert sum(isinstance(act, acts.Reopened) for act in found) == 1
    assert sum(isinstance(act, acts.Noted) for act in found) == 1
    assert sum(isinstance(act, acts.TrialClosed) for act in found) == 3


def _cut_after_the_first_trial(visit: Path) -> None:
    with closing(sqlite3.connect(visit / "visit.sqlite")) as connection:
        (seq,) = connection.execute(
            "SELECT min(seq) FROM acts WHERE kind = 'trial closed'"
        ).fetchone()
        connection.execute("DELETE FROM acts WHERE seq > ?", (seq,))
        connection.commit()
    for path in sorted((visit / "trials").iterdir())[1:]:
        shutil.rmtree(path)


def test_what_does_not_belong_to_the_visit_is_refused(setting: Setting) -> None:
    answers = setting.answers()
    setting.conduct("--answers", answers)
    _cut_after_the_first_trial(setting.visit)
    before = setting.kept()
    plan, codes = setting.plan.read_bytes(), setting.codes.read_bytes()
    setting.plan.unlink()
    setting.codes.unlink()
    setting.make(seed=9)
    other = setting.conduct("--answers", answers)
    assert other.status == 2
    assert "was begun with another plan than" in other.err
    setting.plan.write_bytes(plan)
    other = setting.conduct("--answers", answers)
    assert "was begun with another code list than" in other.err
    setting.codes.write_bytes(codes)
    assert setting.kept() == before


def test_a_rehearsal_keeps_nothing(setting: Setting) -> None:
    before = {*setting.folder.rglob("*")}
    ran = setting.run(
        *("trial", "run", "--plan", setting.plan, "--codes", setting.codes, "--rehearse"),
        *("--source", setting.recording, "--fast", "--answers", setting.answers()),
    )
    assert (ran.status, ran.err) == (0, "")
    assert ran.last_line == "rehearsed; nothing was kept"
    assert {*setting.folder.rglob("*")} - before == {setting.folder / "answers.json"}
    assert not (load_settings({}).data_folder / "sessions").exists()


def test_without_a_folder_it_goes_into_the_data_folder(setting: Setting) -> None:
    ran = setting.run(
        *("trial", "run", "--plan", setting.plan, "--codes", setting.codes),
        *("--source", setting.recording, "--fast", "--answers", setting.answers()),
    )
    assert (ran.status, ran.err) == (0, "")
    (folder,) = (load_settings({}).data_folder / "sessions").iterdir()
    assert f"visit 1 of the plan, kept in {folder}" in ran.out


def test_until_when_it_is_kept(setting: Setting) -> None:
    setting.conduct("--answers", setting.answers(), "--keep-until", "2999-01-01")
    assert read_visit(setting.visit)[0].keep_until == "2999-01-01"


@pytest.mark.parametrize(
    ("left_out", "more", "said"),
    [
        (("--plan",), (), "It is not said what is compared."),
        (("--codes",), (), "The items' codes are not sealed."),
        (("--source",), (), "It is not said where the rider on the hoods is seen."),
        ((), ("--source", "drops=x.npz"), "--source is given 2 times without a hand position."),
        ((), ("--visit", 2), "The plan has no visit 2."),
        ((), ("--keep-until", "soon"), "'soon' is no date."),
        ((), ("--camera", "nowhere"), "nowhere"),
        (("--source",), ("--source", "0"), "0 cannot go faster than life."),
    ],
)
def test_what_is_missing_is_told_before_anything_begins(
    setting: Setting, left_out: tuple[str, ...], more: tuple[object, ...], said: str
) -> None:
    given: dict[str, object] = {
        "--plan": setting.plan,
        "--codes": setting.codes,
        "--source": setting.recording,
        "--session": setting.visit,
        "--answers": setting.answers(),
    }
    words = [word for pair in given.items() if pair[0] not in left_out for word in pair]
    ran = setting.run("trial", "run", "--fast", *words, *more)
    assert ran.status == 2
    assert said in ran.err
    assert not setting.visit.exists()


def test_what_a_plan_needs_is_told(setting: Setting) -> None:
    setting.plan.unlink()
    setting.codes.unlink()
    setting.make(power_w=200.0)
    ran = setting.conduct("--answers", setting.answers())
    assert "A planned power needs a sensor that measures it." in ran.err
    setting.plan.unlink()
    setting.codes.unlink()
    setting.make(hands=("aero",))
    ran = setting.conduct("--answers", setting.answers())
    assert "There is no target rider/bike/aero" in ran.err
    assert not setting.visit.exists()


def test_answers_to_what_is_not_asked_begin_nothing(setting: Setting) -> None:
    ran = setting.conduct("--answers", setting.answers(mountings=[{"number": 9}]))
    assert ran.status == 2
    assert "Mounting 9 is answered" in ran.err
    assert not setting.visit.exists()


def test_a_folder_that_is_no_visit_is_left_alone(setting: Setting) -> None:
    setting.visit.mkdir()
    ran = setting.conduct("--answers", setting.answers())
    assert ran.status == 2
    assert "exists already, is no visit" in ran.err
    assert list(setting.visit.iterdir()) == []


def test_nobody_is_filmed_who_has_not_agreed(setting: Setting) -> None:
    ran = setting.run(
        *("trial", "run", "--plan", setting.plan, "--codes", setting.codes),
        *("--session", setting.visit, "--source", "0", "--answers", setting.answers()),
    )
    assert (ran.status, setting.visit.exists()) == (2, False)
    assert "The rider has not agreed." in ran.err


def test_a_target_of_another_chain_is_told_by_the_exit_status(
    setting: Setting, ridden_target: Target
) -> None:
    chain = replace(ridden_target.chain, model_sha256="1" * 64)
    save_target(replace(ridden_target, chain=chain), load_settings({}).data_folder)
    ran = setting.conduct("--answers", setting.answers())
    assert ran.status == 3
    ran = setting.conduct("--answers", setting.answers(), "--any-chain")
    assert ran.status == 0
    assert "other chain" in ran.out


def test_answers_to_fill_in(setting: Setting, run: Run) -> None:
    ran = run("trial", "answers", setting.plan, "-o", "a.json")
    assert (ran.status, ran.err) == (0, "")
    said = json.loads(Path("a.json").read_text(encoding="utf-8"))
    planned = read_plan(setting.plan).visits[0].mountings
    assert [one["number"] for one in said["mountings"]] == [one.number for one in planned]
    assert setting.conduct("--answers", "a.json").status == 0
    assert run("trial", "answers", setting.plan, "-o", "a.json").status == 2
    assert "no visit 3" in run("trial", "answers", setting.plan, "-o", "b.json", "--visit", 3).err


def test_a_visit_faster_than_life_sends_no_stream(setting: Setting) -> None:
    ran = setting.conduct("--answers", setting.answers(), "--lsl")
    assert ran.status == 2
    assert "the times of a watch fit no other clock" in ran.err
    assert not setting.visit.exists()
