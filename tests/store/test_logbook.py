"""The log carries both clocks, and never stands in the program's way."""

from __future__ import annotations

import logging
import re
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from posewatch.store import logbook
from posewatch.store.logbook import start_log, stop_log
from posewatch.store.settings import Settings

LOG = logging.getLogger("posewatch.store.test")


@pytest.fixture(autouse=True)
def _closed_afterwards() -> Iterator[None]:
    yield
    stop_log()
    logging.getLogger("posewatch").setLevel(logging.NOTSET)


def block(folder: Path) -> None:
    """Put a file where a folder would be made."""
    folder.parent.mkdir(parents=True, exist_ok=True)
    folder.touch()


def test_each_line_carries_wall_and_monotonic_time(tmp_path: Path) -> None:
    started = start_log(Settings())
    LOG.info("größe %d", 3)
    LOG.debug("too small to tell")
    assert started.note == ""
    assert started.path == tmp_path / "home" / "user_log_path" / "posewatch.log"
    (line,) = started.path.read_text(encoding="utf-8").splitlines()
    assert re.fullmatch(
        r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}[+-]\d\d:\d\d \d+\.\d{3} INFO MainThread "
        r"posewatch\.store\.test: größe 3",
        line,
    )


def test_the_level_comes_from_the_settings() -> None:
    started = start_log(Settings(log_level="error"))
    LOG.warning("no")
    LOG.error("yes")
    assert started.path is not None
    assert started.path.read_text(encoding="utf-8").count("\n") == 1


def test_starting_again_writes_each_line_once() -> None:
    start_log(Settings())
    started = start_log(Settings())
    LOG.info("once")
    assert started.path is not None
    assert started.path.read_text(encoding="utf-8").count("once") == 1


def test_old_files_are_few_and_small(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(logbook, "FILE_BYTES", 1000)
    started = start_log(Settings())
    for k in range(200):
        LOG.info("line %d of many", k)
    assert started.path is not None
    sizes = [path.stat().st_size for path in started.path.parent.iterdir()]
    assert len(sizes) == logbook.OLD_FILES + 1
    assert max(sizes) <= 1000


def test_a_temporary_folder_takes_over(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    spare = tmp_path / "spare"
    monkeypatch.setattr(tempfile, "mkdtemp", lambda prefix: str(spare / prefix))
    block(tmp_path / "home" / "user_log_path")
    started = start_log(Settings())
    LOG.info("here")
    assert started.path is not None
    assert started.path == spare / "posewatch-log-" / "posewatch.log"
    assert str(started.path) in started.note
    assert "user_log_path" in started.note
    assert "here" in started.path.read_text(encoding="utf-8")


def test_without_any_place_the_program_goes_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    block(tmp_path / "home" / "user_log_path")

    def no_place(prefix: str) -> str:
        raise FileNotFoundError(prefix)

    monkeypatch.setattr(tempfile, "mkdtemp", no_place)
    started = start_log(Settings())
    LOG.error("nobody hears")
    assert started.path is None
    assert started.note.endswith("there is no log this time.")
    assert capfd.readouterr().err == ""


def test_a_log_that_breaks_says_so_once(
    monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    def full(*_: object) -> None:
        raise OSError("full")

    start_log(Settings())
    monkeypatch.setattr(logbook._LogFile, "shouldRollover", full)
    LOG.info("one")
    LOG.info("two")
    assert capfd.readouterr().err.count("cannot be written any more") == 1
