"""Commands run in this process, as the installed program runs them."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from command_runs import Ran, Run
from visit_setting import Setting

from posewatch.cli import main
from posewatch.core.envelope import Target
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


@pytest.fixture
def setting(
    run: Run,
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
    ridden_target: Target,
    reference_recording: Path,
) -> Setting:
    """A studio with a plan of a visit, not yet begun."""
    monkeypatch.chdir(tmp_path)
    made = Setting(run, monkeypatch, tmp_path, ridden_target, reference_recording)
    made.make()
    return made
