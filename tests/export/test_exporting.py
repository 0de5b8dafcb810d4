"""Exports hold codes and no names; what was made is noted; names only after the logged reveal."""

from __future__ import annotations

from pathlib import Path

import pytest
from made_codes import DESCRIPTIONS, NAMES, PASSPHRASE
from made_visits import VisitMaker

from posewatch.errors import BadInput
from posewatch.export.exporting import export, note_export, require_revealed
from posewatch.export.recorded import Recorded, read_recorded
from posewatch.store.derived import derived_of
from posewatch.store.sealed_codes import open_sealed
from posewatch.trials.acts import Revealed
from posewatch.trials.code_list import folded

WATCH_TABLES = {"trials", "strokes", "intervals", "interval_strokes", "events", "marks"}
VISIT_TABLES = {"ratings", "guesses", "mounting_checks", "hardness", "item_facts", "items"}


def test_a_watch_has_no_tables_of_visits(watch: Path, tmp_path: Path) -> None:
    tables = export(read_recorded([watch]), tmp_path / "out")
    assert {table.name for table in tables} == WATCH_TABLES
    assert {path.stem for path in (tmp_path / "out").glob("*.csv")} == WATCH_TABLES


def test_a_visit_has_them_all_and_no_items_name(recorded: Recorded, tmp_path: Path) -> None:
    pytest.importorskip("pyarrow")
    export(recorded, tmp_path / "out", parquet=True)
    found = list((tmp_path / "out").iterdir())
    assert {path.stem for path in found} == WATCH_TABLES | VISIT_TABLES | {"description"}
    secrets = [*NAMES, *filter(None, DESCRIPTIONS)]
    for path in found:
        data = path.read_bytes()
        said = folded(data.decode("utf-8", "replace"))
        for secret in secrets:
            assert folded(secret) not in said, path
            for encoding in ("utf-8", "utf-16-le"):
                assert secret.encode(encoding) not in data


def test_names_take_the_logged_reveal_of_this_very_list(
    made: VisitMaker, uneven_watch: Path, recorded: Recorded, tmp_path: Path
) -> None:
    with pytest.raises(BadInput, match="were not revealed yet"):
        require_revealed(recorded, made.sealed.sha256)
    with pytest.raises(BadInput, match="is not the one that these visits began with"):
        require_revealed(recorded, "0" * 64)
    reveal = Revealed(0, "the fitter", "curious", True, made.sealed.sha256)
    revealed = read_recorded([made.visit("revealed", uneven_watch, (reveal,))])
    require_revealed(revealed, made.sealed.sha256)
    export(revealed, tmp_path / "out", names=open_sealed(made.sealed, PASSPHRASE))
    holding = [
        path.name
        for path in (tmp_path / "out").iterdir()
        if any(folded(name) in folded(path.read_text(encoding="utf-8")) for name in NAMES)
    ]
    assert holding == ["items.csv"]


def test_what_was_made_is_noted_in_every_recording(
    made: VisitMaker, uneven_watch: Path, tmp_path: Path
) -> None:
    visits = [made.visit(f"v{n}", uneven_watch, number=n) for n in (1, 2)]
    recorded = read_recorded(visits)
    export(recorded, tmp_path / "out")
    note_export(recorded, tmp_path / "out")
    for visit in visits:
        noted = derived_of(visit)
        assert {one.path for one in noted} == {
            tmp_path / "out",
            *(tmp_path / "out").iterdir(),
        }
        assert all(one.is_as_made for one in noted)
