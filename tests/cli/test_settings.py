"""``posewatch settings``, and what every command does with them first."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from command_runs import Run

from posewatch.cli import setup
from posewatch.store.settings import Settings


def test_it_shows_what_is_in_force_as_toml(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "mine.toml"
    file.write_text("goal_strokes = 40\n", encoding="utf-8")
    monkeypatch.setenv("POSEWATCH_SETTINGS", str(file))
    ran = run("settings")
    assert ran.status == 0
    assert f"# file: {file}\n" in ran.out
    shown = tomllib.loads(ran.out)
    assert shown["goal_strokes"] == 40
    assert shown["sit_in_s"] == Settings().sit_in_s


def test_it_writes_a_file_once_and_never_over_another(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "mine.toml"
    monkeypatch.setenv("POSEWATCH_SETTINGS", str(file))
    assert run("settings", "--write").status == 0
    assert tomllib.loads(file.read_text(encoding="utf-8"))["model"] == "full"
    file.write_text("goal_strokes = 40\n", encoding="utf-8")
    ran = run("settings", "--write")
    assert ran.status == 2
    assert "exists already" in ran.err
    assert file.read_text(encoding="utf-8") == "goal_strokes = 40\n"


def test_a_full_native_log_is_put_away(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(setup, "NATIVE_LOG_BYTES", 10)
    with setup.begin():
        pass
    from posewatch.store.logbook import start_log

    log = start_log(Settings()).path
    assert log is not None
    native = log.with_name("native.log")
    native.write_text("x" * 11, encoding="utf-8")
    with setup.begin():
        pass
    assert native.stat().st_size == 0
    assert log.with_name("native.log.1").stat().st_size == 11
