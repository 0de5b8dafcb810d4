"""The demonstration of a visit: two concealed items, each mounted twice, ridden and answered."""

from __future__ import annotations

import pytest
from scripted_answers import Said

from posewatch.checking import check_visit
from posewatch.demo_visit import DESIGN, ITEMS, DemoVisit, begin_demo_visit, conduct_demo_visit
from posewatch.store.sealed_document import read_sealed
from posewatch.store.settings import Settings
from posewatch.store.visit_record import read_visit
from posewatch.trials import acts
from posewatch.trials.concealment import names_in
from posewatch.visits.revealing import lock_data, reveal

NAMES = [one.name for one in ITEMS]


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[DemoVisit, Settings, Said]:
    settings = Settings(data_folder=tmp_path_factory.mktemp("demo"))
    screen = Said()
    begun = begin_demo_visit(settings)
    try:
        conduct_demo_visit(begun.visit, settings, screen)
    finally:
        begun.visit.close()
    return begun, settings, screen


def test_all_of_it_is_ridden_rated_and_guessed(
    made: tuple[DemoVisit, Settings, Said],
) -> None:
    begun, _, _ = made
    state = begun.visit.state
    assert [(run.mounting, run.hands, run.n_confirmed) for run in state.runs] == [
        (one.number, trial.hands, DESIGN.goal_strokes)
        for one in begun.visit.plan.mountings
        for trial in one.trials
    ]
    slots = [one.slot for one in state.mounted]
    assert slots in ([0, 1, 1, 0], [1, 0, 0, 1])
    assert all(one.guess is not None for one in state.mounted)
    assert {place for place, _ in state.ratings} == set(range(8))
    assert state.ended is not None
    assert state.ended.reason == ""


def test_the_record_has_bench_readings_and_is_whole(
    made: tuple[DemoVisit, Settings, Said],
) -> None:
    begun, _, _ = made
    header, kept = read_visit(begun.visit.folder)
    gauged = [one.act for one in kept if isinstance(one.act, acts.Gauged)]
    assert {one.code for one in gauged} == {*header.codes}
    assert all(len(one.readings) == 5 for one in gauged)
    assert sum(isinstance(one.act, acts.ItemFact) for one in kept) == 4
    found = check_visit(begun.visit.folder)
    assert found.all_wrong == []
    assert len(found.trials) == 8


def test_no_name_is_anywhere_before_the_reveal(
    made: tuple[DemoVisit, Settings, Said],
) -> None:
    begun, settings, screen = made
    n_files = 0
    for path in settings.data_folder.rglob("*"):
        assert names_in(str(path.relative_to(settings.data_folder)), NAMES) == ()
        if path.is_file():
            n_files += 1
            data = path.read_bytes().lower()
            for coding in ("utf-8", "utf-16-le", "utf-16-be"):
                assert not any(name.lower().encode(coding) in data for name in NAMES), path
    assert n_files > 10
    assert names_in("\n".join(screen.lines), NAMES) == ()
    _reveals(begun, settings)


def _reveals(begun: DemoVisit, settings: Settings) -> None:
    """The passphrase that was shown opens the list, once the data are locked."""
    folders = [begun.visit.folder]
    lock_data(folders, "the analyst", settings)
    _, opened = reveal(
        read_sealed(begun.codes),
        lambda: begun.passphrase,
        folders,
        "the analyst",
        "all is done",
        forced=False,
        settings=settings,
    )
    assert sorted(slot.item.name for slot in opened.slots) == sorted(NAMES)
    assert opened.codes == read_visit(begun.visit.folder)[0].codes


def test_the_order_of_hand_positions_turns_round_from_block_to_block(
    made: tuple[DemoVisit, Settings, Said],
) -> None:
    begun, _, _ = made
    planned = begun.visit.plan.mountings
    assert [[trial.hands for trial in one.trials] for one in planned] == [
        *(["hoods", "drops"], ["hoods", "drops"], ["drops", "hoods"], ["drops", "hoods"]),
    ]
