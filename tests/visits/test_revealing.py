"""The data lock and the reveal on the records of visits."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from pathlib import Path

import pytest
from made_codes import CHEAP, NAMES, PASSPHRASE, made_codes
from made_plans import made_design

from posewatch.errors import BadInput
from posewatch.store.plan_file import write_plan
from posewatch.store.sealed_codes import WrongPassphrase, seal, write_sealed
from posewatch.store.sealed_document import SealedCodes, read_sealed
from posewatch.store.settings import Settings
from posewatch.store.visit_record import read_visit
from posewatch.trials.acts import DataLocked, Reopened, Revealed, TrialBegun, VisitBegun, VisitEnded
from posewatch.trials.concealment import EARLY_STAMP
from posewatch.trials.plan import make_plan
from posewatch.visits.revealing import lock_data, reveal
from posewatch.visits.visit import NewVisit, Visit


def folders(tmp_path: Path) -> list[Path]:
    return [tmp_path / "first", tmp_path / "second"]


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    return Settings().model_copy(update={"data_folder": tmp_path / "data"})


@pytest.fixture
def sealed(tmp_path: Path, settings: Settings) -> SealedCodes:
    """A sealed list of three items, and two visits of its plan that were begun with it."""
    path = tmp_path / "plan.json"
    write_plan(make_plan(made_design(n_items=3, n_visits=2)), path)
    of_plan = replace(made_codes(), plan_sha256=hashlib.sha256(path.read_bytes()).hexdigest())
    write_sealed(seal(of_plan, PASSPHRASE, CHEAP), tmp_path / "codes.json")
    found = read_sealed(tmp_path / "codes.json")
    for number, folder in enumerate(folders(tmp_path), 1):
        visit = Visit.begin(folder, NewVisit(path, found), settings)
        visit.do(VisitBegun(visit.clock.now_ns, number))
        visit.do(VisitEnded(visit.clock.now_ns, "out of time"))
        visit.close()
    return found


def kinds(folder: Path) -> list[str]:
    """What a visit's record holds, but for its being opened again."""
    _, kept = read_visit(folder)
    return [type(one.act).__name__ for one in kept if not isinstance(one.act, Reopened)]


def test_after_the_lock_a_reveal_stands_in_every_record_before_it_is_shown(
    sealed: SealedCodes, tmp_path: Path, settings: Settings
) -> None:
    visits = folders(tmp_path)
    lock_data(visits, "the analyst", settings)
    asked = []

    def ask() -> str:
        asked.append([kinds(folder)[-1] for folder in visits])
        return PASSPHRASE

    decided, opened = reveal(sealed, ask, visits, "the fitter", "all is done", False, settings)
    assert asked == [["DataLocked", "DataLocked"]]
    assert (decided.forced, decided.stamp) == (False, "")
    assert sorted(slot.item.name for slot in opened.slots) == sorted(NAMES)
    for folder in visits:
        last = read_visit(folder)[1][-1].act
        assert isinstance(last, Revealed)
        assert (last.who, last.why, last.forced) == ("the fitter", "all is done", False)
        assert last.sha256 == hashlib.sha256((tmp_path / "codes.json").read_bytes()).hexdigest()


def test_one_visit_that_is_not_locked_refuses_it_and_forcing_stamps_it(
    sealed: SealedCodes, tmp_path: Path, settings: Settings
) -> None:
    first, second = folders(tmp_path)
    lock_data([first], "the analyst", settings)
    with pytest.raises(BadInput, match="not locked yet"):
        reveal(sealed, lambda: PASSPHRASE, [first, second], "me", "curious", False, settings)
    assert "Revealed" not in kinds(first) + kinds(second)
    decided, _ = reveal(sealed, lambda: PASSPHRASE, [first, second], "me", "now", True, settings)
    assert decided.stamp == EARLY_STAMP
    assert kinds(second)[-1] == "Revealed"


def test_a_wrong_passphrase_leaves_no_trace_in_the_record(
    sealed: SealedCodes, tmp_path: Path, settings: Settings
) -> None:
    visits = folders(tmp_path)
    lock_data(visits, "the analyst", settings)
    with pytest.raises(WrongPassphrase):
        reveal(sealed, lambda: "another of 7 tins", visits, "me", "done", False, settings)
    assert [kinds(folder) for folder in visits] == [["VisitBegun", "VisitEnded", "DataLocked"]] * 2


def test_another_list_than_the_published_one_is_refused_even_when_forced(
    sealed: SealedCodes, tmp_path: Path, settings: Settings
) -> None:
    write_sealed(seal(made_codes(seed=2), PASSPHRASE, CHEAP), tmp_path / "other.json")
    other = read_sealed(tmp_path / "other.json")
    with pytest.raises(BadInput, match="not the code list that was published"):
        reveal(other, lambda: PASSPHRASE, folders(tmp_path), "me", "done", True, settings)


def test_nothing_is_locked_where_one_visit_cannot_be(
    sealed: SealedCodes, tmp_path: Path, settings: Settings
) -> None:
    first, second = folders(tmp_path)
    lock_data([second], "the analyst", settings)
    with pytest.raises(BadInput, match=r"second cannot be locked\. The data are locked"):
        lock_data([first, second], "the analyst", settings)
    assert "DataLocked" not in kinds(first)
    with pytest.raises(BadInput, match="not said who"):
        lock_data([first], " ", settings)
    visit = Visit.go_on(second, settings)
    try:
        with pytest.raises(BadInput, match="data are locked"):
            visit.do(TrialBegun(visit.clock.now_ns, "trials/x"))
        with pytest.raises(BadInput, match="data are locked"):
            visit.do(DataLocked(visit.clock.now_ns, "again"))
    finally:
        visit.close()


def test_of_several_visits_one_that_is_not_over_keeps_all_from_being_locked(
    sealed: SealedCodes, tmp_path: Path, settings: Settings
) -> None:
    unfinished = tmp_path / "third"
    visit = Visit.begin(unfinished, NewVisit(tmp_path / "plan.json", sealed), settings)
    visit.do(VisitBegun(visit.clock.now_ns, 1))
    visit.close()
    before = [read_visit(folder)[1] for folder in folders(tmp_path)]
    with pytest.raises(BadInput, match=r"third cannot be locked\. The visit is not over"):
        lock_data([*folders(tmp_path), unfinished], "the analyst", settings)
    assert [read_visit(folder)[1] for folder in folders(tmp_path)] == before


def test_a_refused_reveal_changes_no_record(
    sealed: SealedCodes, tmp_path: Path, settings: Settings
) -> None:
    before = [read_visit(folder)[1] for folder in folders(tmp_path)]
    with pytest.raises(BadInput, match="not locked yet"):
        reveal(sealed, lambda: PASSPHRASE, folders(tmp_path), "me", "why not", False, settings)
    assert [read_visit(folder)[1] for folder in folders(tmp_path)] == before
