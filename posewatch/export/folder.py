"""Writes what is given out into a new folder: whole or not at all, never over another one."""

from __future__ import annotations

import csv
import os
import shutil
import uuid
from collections.abc import Sequence
from itertools import starmap
from pathlib import Path
from typing import TYPE_CHECKING

from posewatch.core.wall_time import utc_text
from posewatch.errors import BadInput
from posewatch.export.columns import Cell, Column, Kind, Table

if TYPE_CHECKING:
    import pyarrow as pa

DESCRIPTION = "description.json"


def require_free(folder: Path) -> None:
    """Refuse a folder that exists.

    Raises:
        BadInput: it exists; it was left as it is.
    """
    if os.path.lexists(folder):
        raise BadInput(f"{folder} exists already and was left as it is.", "Name a new folder.")


def require_parquet() -> None:
    """Refuse to write Parquet where its library is missing.

    Raises:
        BadInput: pyarrow cannot be loaded.
    """
    try:
        import pyarrow.parquet  # noqa: F401
    except ImportError as error:
        raise BadInput(
            f"Parquet needs the library pyarrow, which cannot be loaded ({error}).",
            "Install it with `pip install 'posewatch[parquet]'`, or leave --parquet out.",
        ) from error


def write_folder(
    folder: Path, tables: Sequence[Table], description: str, *, parquet: bool
) -> list[str]:
    """Write the tables and their description; return the names of the files.

    Everything goes under a temporary name beside the folder first, and gets its name at the end; a
    failure leaves nothing, a kill only what has the temporary name.

    Raises:
        BadInput: the folder exists or cannot be written, or Parquet's library is missing.
    """
    require_free(folder)
    if parquet:
        require_parquet()
    part = folder.with_name(f".{folder.name}.{uuid.uuid4().hex}.part")
    try:
        part.mkdir(parents=True)
        for table in tables:
            _write_csv(table, part / f"{table.name}.csv")
            if parquet:
                _write_parquet(table, part / f"{table.name}.parquet")
        (part / DESCRIPTION).write_text(description, encoding="utf-8", newline="\n")
        names = sorted(path.name for path in part.iterdir())
        for name in names:
            _make_safe(part / name)
        require_free(folder)
        part.rename(folder)
    except OSError as error:
        raise BadInput(
            f"{folder} cannot be written ({error.strerror or error}).",
            "Name a new folder in a place that can be written to and has room.",
        ) from error
    finally:
        shutil.rmtree(part, ignore_errors=True)
    return names


def _make_safe(path: Path) -> None:
    """Make sure that a file is on the drive."""
    with path.open("rb+") as file:
        os.fsync(file.fileno())


def _write_csv(table: Table, path: Path) -> None:
    with path.open("x", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(column.name for column in table.columns)
        for row in table.rows:
            writer.writerow(starmap(_cell, zip(table.columns, row, strict=True)))


def _cell(column: Column, value: Cell) -> str:
    """Return the text of a cell; a number's is the shortest that gives the same number."""
    if value is None:
        return ""
    if column.kind is Kind.MOMENT:
        assert isinstance(value, int)
        return utc_text(value)
    if column.kind is Kind.TRUTH:
        return "true" if value else "false"
    return repr(value) if isinstance(value, float) else str(value)


def _write_parquet(table: Table, path: Path) -> None:
    import pyarrow as pa
    import pyarrow.parquet as pq

    columns = list(zip(*table.rows, strict=True)) or [()] * len(table.columns)
    arrays = [
        pa.array(cells, _arrow_type(column.kind))
        for column, cells in zip(table.columns, columns, strict=True)
    ]
    schema = pa.schema(
        [
            pa.field(column.name, array.type, metadata={"meaning": column.meaning})
            for column, array in zip(table.columns, arrays, strict=True)
        ],
        metadata={"about": table.about},
    )
    pq.write_table(pa.Table.from_arrays(arrays, schema=schema), path)


def _arrow_type(kind: Kind) -> pa.DataType:
    import pyarrow as pa

    types = {
        Kind.TEXT: pa.string(),
        Kind.NUMBER: pa.float64(),
        Kind.COUNT: pa.int64(),
        Kind.TRUTH: pa.bool_(),
        Kind.MOMENT: pa.timestamp("ns", tz="UTC"),
    }
    return types[kind]
