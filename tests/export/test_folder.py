"""A folder of open files is written whole or not at all, and never over anything."""

from __future__ import annotations

import csv
import sys
from pathlib import Path

import pytest

from posewatch.errors import BadInput
from posewatch.export import folder as export_folder
from posewatch.export.columns import Table, count, moment, number, text, truth
from posewatch.export.folder import DESCRIPTION, require_parquet, write_folder

TABLE = Table(
    "things",
    "one row for each thing",
    (
        text("name", "its name"),
        number("length_mm", "how long"),
        count("n", "how many"),
        truth("good", "whether it is"),
        moment("utc", "when"),
    ),
    [
        ('said "so, and\r\nso"; größer', 0.1 + 0.2, 3, True, 1_740_820_272_000_001_000),
        ("", None, None, None, None),
        ("-1", -1e-17, -2, False, 0),
    ],
)
EMPTY = Table("none", "nothing", TABLE.columns, [])


def test_csv_is_read_back_as_it_was_meant(tmp_path: Path) -> None:
    names = write_folder(tmp_path / "out", [TABLE, EMPTY], "{}\n", parquet=False)
    assert names == sorted([DESCRIPTION, "things.csv", "none.csv"])
    data = (tmp_path / "out" / "things.csv").read_bytes()
    assert data.startswith(b"name,length_mm,n,good,utc\r\n")
    with (tmp_path / "out" / "things.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.reader(file))[1:]
    assert rows == [
        ['said "so, and\r\nso"; größer', "0.30000000000000004", "3", "true"]
        + ["2025-03-01T09:11:12.000001Z"],
        [""] * 5,
        ["-1", "-1e-17", "-2", "false", "1970-01-01T00:00:00.000000Z"],
    ]
    assert (tmp_path / "out" / "none.csv").read_text(encoding="utf-8") == (
        "name,length_mm,n,good,utc\n"
    )


def test_parquet_holds_the_same_with_types_and_meanings(tmp_path: Path) -> None:
    pq = pytest.importorskip("pyarrow.parquet")
    write_folder(tmp_path / "out", [TABLE, EMPTY], "{}\n", parquet=True)
    found = pq.read_table(tmp_path / "out" / "things.parquet")
    assert [str(one) for one in found.schema.types] == [
        "string",
        "double",
        "int64",
        "bool",
        "timestamp[ns, tz=UTC]",
    ]
    assert found.schema.field("length_mm").metadata == {b"meaning": b"how long"}
    assert found.column("length_mm").to_pylist() == [0.1 + 0.2, None, -1e-17]
    assert found.column("name").to_pylist()[0] == 'said "so, and\r\nso"; größer'
    assert found.column("good").to_pylist() == [True, None, False]
    assert found.column("utc").cast("int64").to_pylist() == [1_740_820_272_000_001_000, None, 0]
    assert pq.read_table(tmp_path / "out" / "none.parquet").num_rows == 0


def test_without_its_library_parquet_is_refused_plainly(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    monkeypatch.setitem(sys.modules, "pyarrow.parquet", None)
    with pytest.raises(BadInput, match=r"needs the library pyarrow.*pip install") as caught:
        require_parquet()
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("kind", ["folder", "file", "link"])
def test_what_exists_is_left_as_it_is(tmp_path: Path, kind: str) -> None:
    out = tmp_path / "out"
    if kind == "folder":
        out.mkdir()
    elif kind == "file":
        out.write_text("mine", encoding="utf-8")
    else:
        out.symlink_to(tmp_path / "nowhere")
    with pytest.raises(BadInput, match="exists already and was left as it is"):
        write_folder(out, [TABLE], "{}\n", parquet=False)
    assert [path.name for path in tmp_path.iterdir()] == ["out"]
    assert kind != "file" or out.read_text(encoding="utf-8") == "mine"


@pytest.mark.parametrize("failing", [OSError(28, "No space left on device"), KeyboardInterrupt()])
def test_a_failure_in_the_middle_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, failing: BaseException
) -> None:
    def fail(path: Path) -> None:
        assert not (tmp_path / "out").exists()
        raise failing

    monkeypatch.setattr(export_folder, "_make_safe", fail)
    with pytest.raises((BadInput, KeyboardInterrupt)) as caught:
        write_folder(tmp_path / "out", [TABLE], "{}\n", parquet=False)
    assert list(tmp_path.iterdir()) == []
    if isinstance(failing, OSError):
        assert "out cannot be written (No space left on device)" in str(caught.value)


def test_a_place_that_cannot_be_written_to_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x", encoding="utf-8")
    with pytest.raises(BadInput, match="out cannot be written"):
        write_folder(tmp_path / "file" / "out", [TABLE], "{}\n", parquet=False)


def test_a_cell_too_many_is_a_fault_of_the_program(tmp_path: Path) -> None:
    bad = Table("bad", "", TABLE.columns, [("a", 1.0)])
    with pytest.raises(ValueError, match="zip"):
        write_folder(tmp_path / "out", [bad], "{}\n", parquet=False)
    assert list(tmp_path.iterdir()) == []
