"""When windows are opened, and what the commands say after them."""

from __future__ import annotations

from pathlib import Path

import pytest
from command_runs import Run

from posewatch.cli import sources
from posewatch.cli.sources import can_show_windows, source_for
from posewatch.core.envelope import Target
from posewatch.store.settings import Settings
from posewatch.studio import Studio
from posewatch.ui import application


@pytest.fixture
def displayed(monkeypatch: pytest.MonkeyPatch) -> None:
    """A machine with a display."""
    monkeypatch.delenv("QT_QPA_PLATFORM")
    monkeypatch.setenv("DISPLAY", ":0")


@pytest.mark.parametrize(
    ("names", "platform", "can"),
    [
        ({"DISPLAY": ":0"}, "linux", True),
        ({"WAYLAND_DISPLAY": "wayland-0"}, "linux", True),
        ({}, "linux", False),
        ({"DISPLAY": ":0", "QT_QPA_PLATFORM": "offscreen"}, "linux", False),
        ({}, "win32", True),
        ({}, "darwin", True),
    ],
)
def test_windows_need_a_display(
    monkeypatch: pytest.MonkeyPatch, names: dict[str, str], platform: str, can: bool
) -> None:
    for name in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM"):
        monkeypatch.delenv(name, raising=False)
    for name, value in names.items():
        monkeypatch.setenv(name, value)
    monkeypatch.setattr(sources.sys, "platform", platform)
    assert can_show_windows() is can


def watched_by_itself(studio: Studio) -> None:
    """Stand in for the windows: watch what was chosen."""
    studio.watch()
    assert studio.engine.wait(30.0)


def test_a_watch_in_windows_ends_with_the_same_line(
    displayed: None,
    run: Run,
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
    reference_recording: Path,
    target_file: Path,
) -> None:
    monkeypatch.setattr(application, "run_windows", watched_by_itself)
    session = tmp_path / "s"
    arguments = ("--source", reference_recording, "--target", target_file, "--end", "12")
    ran = run("watch", *arguments, "--session", session)
    assert ran.status == 0
    assert f"logged in {session}" in ran.out.replace("\n", "")
    assert ran.last_line.startswith("counted ")
    assert run("replay", session).status == 0


def test_windows_that_were_only_looked_at_say_so(
    displayed: None, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(application, "run_windows", lambda studio: None)
    assert run("watch").last_line == "nothing was watched"


@pytest.mark.parametrize("flag", ["--headless", "--fast"])
def test_without_windows_somebody_must_say_what_to_watch(
    displayed: None, run: Run, monkeypatch: pytest.MonkeyPatch, flag: str
) -> None:
    def must_not(studio: Studio) -> None:
        raise AssertionError("a window was opened")

    monkeypatch.setattr(application, "run_windows", must_not)
    ran = run("watch", flag)
    assert ran.status == 2
    assert "Give --source and --target" in " ".join(ran.err.split())


def test_the_demo_opens_its_ride(
    displayed: None, run: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    shown: list[Studio] = []
    monkeypatch.setattr(application, "run_windows", shown.append)
    ran = run("demo", "--out", tmp_path / "demo")
    assert (ran.status, ran.last_line) == (0, "nothing was watched")
    (studio,) = shown
    assert studio.chosen.source is not None
    assert studio.chosen.source.paced
    assert studio.chosen.target is not None
    assert studio.chosen.target.version == 1


def test_a_source_is_read_as_the_targets_was(ridden_target: Target, tmp_path: Path) -> None:
    settings = Settings(data_folder=tmp_path, model="lite")
    found = source_for(ridden_target, "Desk camera", settings, None)
    chain = ridden_target.chain
    assert (found.live, found.model, found.workers) == ("Desk camera", "full", 1)
    assert found.wished == (chain.width_px, chain.height_px, round(chain.rate_hz))
    assert source_for(ridden_target, "a.mp4", settings, None, True).path == Path("a.mp4")
