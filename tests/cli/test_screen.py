"""Cautions are printed as lines of a list, none of them broken by the terminal's width."""

from __future__ import annotations

import pytest

from posewatch.cli.screen import show_cautions
from posewatch.store.consent import CAUTIONS, CAUTIONS_TITLE


def test_cautions_are_printed_whole(capsys: pytest.CaptureFixture[str]) -> None:
    show_cautions()
    lines = capsys.readouterr().out.splitlines()
    assert lines[0] == CAUTIONS_TITLE
    assert sum(line.startswith("  - ") for line in lines) == len(CAUTIONS)
    assert max(map(len, lines)) <= 74
    said = " ".join(line.strip().removeprefix("- ") for line in lines[1:])
    assert said == " ".join(CAUTIONS)
