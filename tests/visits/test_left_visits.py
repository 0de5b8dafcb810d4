"""Visits that were left are found; those that are over, open elsewhere or damaged are not."""

from __future__ import annotations

from pathlib import Path

import pytest
from made_acts import made_plan

from posewatch.errors import BadInput
from posewatch.store.plan_file import write_plan
from posewatch.store.settings import Settings
from posewatch.trials import acts
from posewatch.visits.left_visits import left_visits, look_at
from posewatch.visits.new_visit import NewVisit
from posewatch.visits.visit import Visit


def begin(folder: Path, *more: type[acts.VisitEnded], close: bool = True) -> Visit:
    plan = folder.with_suffix(".json")
    write_plan(made_plan(), plan)
    visit = Visit.begin(folder, NewVisit(plan, fast=True), Settings(data_folder=folder.parent))
    visit.do(acts.VisitBegun(visit.clock.now_ns, 1))
    for kind in more:
        visit.do(kind(visit.clock.now_ns, "no time"))
    if close:
        visit.close()
    return visit


def test_only_what_can_be_gone_on_with_newest_first(tmp_path: Path) -> None:
    begin(tmp_path / "older")
    begin(tmp_path / "over", acts.VisitEnded)
    begin(tmp_path / "damaged")
    (tmp_path / "damaged" / "visit.sqlite").write_bytes(b"x" * 5000)
    (tmp_path / "no visit").mkdir()
    begin(tmp_path / "newer")
    opened = begin(tmp_path / "open", close=False)
    assert [one.folder.name for one in left_visits(tmp_path)] == ["newer", "older"]
    opened.close()
    assert [one.folder.name for one in left_visits(tmp_path)] == ["open", "newer", "older"]
    assert left_visits(tmp_path / "gone") == []


def test_how_far_it_went(tmp_path: Path) -> None:
    begin(tmp_path / "visit")
    found = look_at(tmp_path / "visit")
    assert not found.has_ended
    assert f"{found.folder}: visit 1, 0 of 8 trials ridden, last 20" in found.words
    begin(tmp_path / "over", acts.VisitEnded)
    assert look_at(tmp_path / "over").has_ended
    with pytest.raises(BadInput, match="is no visit"):
        look_at(tmp_path)
