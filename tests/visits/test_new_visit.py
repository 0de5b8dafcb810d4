"""What a new visit says of itself before anything happens."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from made_acts import made_plan
from made_codes import CHEAP, PASSPHRASE, made_codes

from posewatch.errors import BadInput
from posewatch.store.plan_file import read_plan, write_plan
from posewatch.store.sealed_codes import seal
from posewatch.store.sealed_document import SealedCodes, parse_sealed, sha256_of
from posewatch.visits.new_visit import NewVisit


@pytest.fixture
def plan_path(tmp_path: Path) -> Path:
    write_plan(made_plan(n_items=3), tmp_path / "plan.json")
    return tmp_path / "plan.json"


def sealed_for(plan_sha256: str) -> SealedCodes:
    code_list = replace(made_codes(), plan_sha256=plan_sha256)
    return parse_sealed(seal(code_list, PASSPHRASE, CHEAP), "codes.json")


def test_items_go_by_the_sealed_codes_and_their_hash_is_published(plan_path: Path) -> None:
    sealed = sealed_for(sha256_of(plan_path.read_bytes()))
    header = NewVisit(plan_path, sealed, "agreed", fast=True).header()
    assert header.plan == read_plan(plan_path)
    assert header.codes == sealed.codes
    assert header.sealed_sha256 == sealed.sha256
    assert (header.consent, header.rehearsal, header.fast) == ("agreed", False, True)
    assert header.versions["posewatch"]


def test_without_a_code_list_items_go_by_the_plans_words(plan_path: Path) -> None:
    header = NewVisit(plan_path).header()
    assert header.codes == ("item 1", "item 2", "item 3")
    assert header.sealed_sha256 == ""


def test_a_code_list_of_another_plan_is_refused(plan_path: Path, tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="was sealed for another plan than"):
        NewVisit(plan_path, sealed_for("5a" * 32)).header()
    two = tmp_path / "two.json"
    write_plan(made_plan(n_items=2), two)
    with pytest.raises(BadInput, match="was sealed for another plan than"):
        NewVisit(two, sealed_for(sha256_of(two.read_bytes()))).header()


def test_until_when_it_is_kept(plan_path: Path) -> None:
    today = datetime.now().astimezone().date()
    for day in ("", today.isoformat(), (today + timedelta(400)).isoformat()):
        assert NewVisit(plan_path, keep_until=day).header().keep_until == day
    for day, said in (("soon", "'soon' is no date."), ("2020-01-01", "2020-01-01 is over.")):
        with pytest.raises(BadInput) as raised:
            NewVisit(plan_path, keep_until=day).header()
        assert said in str(raised.value)
