"""Commands run in this process, as the installed program runs them."""

from __future__ import annotations

import sys
from collections.abc import Iterator

import pytest
from command_runs import Ran, Run

from posewatch.cli import main
from posewatch.store.logbook import stop_log


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Iterator[Run]:
    """Run ``posewatch`` with these arguments; its output is piped."""

    def command(*arguments: object) -> Ran:
        monkeypatch.setattr(sys, "argv", ["posewatch", *map(str, arguments)])
        capsys.readouterr()
        with pytest.raises(SystemExit) as ended:
            main()
        said = capsys.readouterr()
        assert isinstance(ended.value.code, int | None)
        return Ran(ended.value.code or 0, said.out, said.err)

    yield command
    stop_log()
