"""A first look in one go: its plan, its sealed codes, and what is nowhere on disk."""

from __future__ import annotations

from pathlib import Path

import pytest
from made_codes import CHEAP

from posewatch.errors import BadInput
from posewatch.store.plan_file import read_plan
from posewatch.store.sealed_codes import WrongPassphrase, open_sealed
from posewatch.store.sealed_document import read_sealed
from posewatch.trials.plan import Design
from posewatch.trials.words import ComparisonKind, OrderKind, SaddleMode, Stamp
from posewatch.visits.first_look import FirstLook, first_look_design, make_first_look
from posewatch.visits.new_visit import NewVisit

NAMES = ("Quaggy Pad", "Zebu-Gel")


def design(**changes: object) -> Design:
    given: dict[str, object] = {
        "kind": ComparisonKind.SHORTS,
        "saddle_mode": None,
        "rider": "r17",
        "bike": "road",
        "hands": ("hoods", "drops"),
    }
    return first_look_design(**(given | changes))  # type: ignore[arg-type]


def made(folder: Path, names: tuple[str, str] = NAMES) -> FirstLook:
    return make_first_look(folder, design(), names, CHEAP)


def test_three_reversed_pairs_of_covered_items_as_an_indication(tmp_path: Path) -> None:
    found = read_plan(made(tmp_path).plan_path).design
    assert (found.n_items, found.mountings, found.n_visits) == (2, 3, 1)
    assert found.order is OrderKind.REVERSED_PAIRS
    assert found.concealment.item_concealed
    assert found.stamp is Stamp.INDICATION_ONLY
    assert found.hands == ("hoods", "drops")


def test_each_first_look_draws_its_own_seed() -> None:
    assert len({design().seed for _ in range(8)}) == 8


def test_saddles_say_how_they_are_compared() -> None:
    found = design(kind=ComparisonKind.SADDLE, saddle_mode=SaddleMode.SWAP)
    assert found.saddle_mode is SaddleMode.SWAP


def test_the_code_list_belongs_to_the_plan_and_opens_with_the_passphrase_only(
    tmp_path: Path,
) -> None:
    look = made(tmp_path)
    sealed = read_sealed(look.codes_path)
    assert sealed.sha256 == look.sha256
    NewVisit(look.plan_path, sealed).header()
    opened = open_sealed(sealed, look.passphrase)
    by_letter = {one.card: (one.code, one.item.name) for one in opened.slots}
    assert [by_letter[letter][1] for letter in "AB"] == list(NAMES)
    assert dict(look.labels) == {by_letter[letter][0]: letter for letter in "AB"}
    with pytest.raises(WrongPassphrase):
        open_sealed(sealed, f"{look.passphrase}x")


def test_neither_passphrase_nor_name_nor_assignment_is_on_disk_or_in_a_repr(
    tmp_path: Path,
) -> None:
    look = made(tmp_path)
    written = b"".join(path.read_bytes() for path in tmp_path.rglob("*") if path.is_file())
    for secret in (*NAMES, look.passphrase):
        assert secret.encode() not in written
        assert secret not in repr(look)
    assert str(look.labels) not in repr(look)


def test_items_without_a_name_are_known_by_their_letters(tmp_path: Path) -> None:
    look = made(tmp_path, ("", " "))
    opened = open_sealed(read_sealed(look.codes_path), look.passphrase)
    assert [one.item.name[0] for one in opened.as_named] == ["A", "B"]


def test_a_name_that_the_plan_would_give_away_is_refused_and_nothing_is_left(
    tmp_path: Path,
) -> None:
    with pytest.raises(BadInput, match="item B") as refused:
        made(tmp_path, ("Quaggy Pad", "road"))
    assert "road" not in str(refused.value)
    with pytest.raises(BadInput):
        made(tmp_path, ("same", "Same"))
    assert list(tmp_path.iterdir()) == []


def test_two_in_one_second_do_not_meet(tmp_path: Path) -> None:
    looks = [made(tmp_path / "new"), made(tmp_path / "new")]
    assert len({look.plan_path for look in looks}) == 2
    assert len(list((tmp_path / "new").iterdir())) == 4


def test_a_folder_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("", encoding="utf-8")
    with pytest.raises(BadInput, match="cannot be made"):
        made(tmp_path / "taken" / "plans")
