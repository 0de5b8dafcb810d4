"""Bench readings and facts of items: by code; by name only where the code list was opened."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from made_codes import DESCRIPTIONS, NAMES, PASSPHRASE
from made_visits import VisitMaker

from posewatch.export.item_tables import item_tables
from posewatch.export.recorded import Recorded, read_recorded
from posewatch.store.sealed_codes import open_sealed
from posewatch.trials.code_list import CodeList


def records(recorded: Recorded, names: CodeList | None = None) -> dict[str, list[dict[str, Any]]]:
    return {
        table.name: [
            dict(zip((column.name for column in table.columns), row, strict=True))
            for row in table.rows
        ]
        for table in item_tables(recorded, names)
    }


def test_bench_readings_come_with_median_spread_and_warnings(
    recorded: Recorded, made: VisitMaker
) -> None:
    (row,) = records(recorded)["hardness"]
    assert (row["code"], row["scale"], row["type"]) == (made.sealed.codes[0], "Shore 00", "OO")
    # Reckoned by hand from 31, 33, 32, 38, 32.
    assert (row["n"], row["median"], row["range"]) == (5, 32.0, 7.0)
    assert row["mean"] == pytest.approx(33.2)
    assert row["sd"] == pytest.approx(2.775, abs=5e-4)
    assert row["readings"] == "31 33 32 38 32"
    assert row["warnings"].startswith("5.5 mm thick, under 6 mm")


def test_a_passport_is_over_all_visits(made: VisitMaker, uneven_watch: Path) -> None:
    folders = [made.visit(f"v{n}", uneven_watch, number=n) for n in (1, 2)]
    found = records(read_recorded(folders))
    assert [
        (one["visit"], one["fact"], one["value"], one["unit"]) for one in found["item_facts"]
    ] == [
        (1, "weight", 182.5, "g"),
        (1, "washes", 4.0, "1"),
        (2, "weight", 182.5, "g"),
        (2, "washes", 5.0, "1"),
    ]
    items = {one["code"]: one for one in found["items"]}
    assert list(items) == list(made.sealed.codes)
    assert items[made.sealed.codes[0]]["washes"] == 5.0
    assert items[made.sealed.codes[1]]["washes"] is None
    # Ten trials of 44.97 s, over the items that were mounted.
    assert sum(one["ridden_in_trials_h"] for one in items.values()) == pytest.approx(
        10 * 44.966666667 / 3600
    )


def test_names_are_there_only_where_the_list_was_opened(
    recorded: Recorded, made: VisitMaker
) -> None:
    assert "name" not in records(recorded)["items"][0]
    opened = open_sealed(made.sealed, PASSPHRASE)
    rows = records(recorded, opened)["items"]
    assert sorted((one["name"], one["description"]) for one in rows) == sorted(
        zip(NAMES, DESCRIPTIONS, strict=True)
    )
    assert all(opened.behind(one["code"]).card == one["card"] for one in rows)
