"""What is printed: cautions as lines of a list, tables as they are."""

from __future__ import annotations

import pytest
from rich.table import Table

from posewatch.cli.screen import show_cautions, show_table
from posewatch.store.consent import CAUTIONS, CAUTIONS_TITLE


def test_cautions_are_printed_whole(capsys: pytest.CaptureFixture[str]) -> None:
    show_cautions()
    lines = capsys.readouterr().out.splitlines()
    assert lines[0] == CAUTIONS_TITLE
    assert sum(line.startswith("  - ") for line in lines) == len(CAUTIONS)
    assert max(map(len, lines)) <= 74
    said = " ".join(line.strip().removeprefix("- ") for line in lines[1:])
    assert said == " ".join(CAUTIONS)


def test_brackets_in_a_table_are_no_markup(capsys: pytest.CaptureFixture[str]) -> None:
    table = Table("note")
    table.add_row("strap [/] slipped [left]")
    show_table(table)
    assert "strap [/] slipped [left]" in capsys.readouterr().out
