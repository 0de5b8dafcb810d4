"""When windows are opened, and what the commands say after them."""

from __future__ import annotations

from pathlib import Path

import pytest
from command_runs import Run
from visit_setting import Setting

from posewatch.cli import sources
from posewatch.cli.sources import can_show_windows, source_for
from posewatch.core.envelope import Target
from posewatch.core.watch_plan import WatchPlan
from posewatch.store.settings import Settings
from posewatch.studio import Studio
from posewatch.ui import application
from posewatch.ui.visit_ride import Rides
from posewatch.visits.visit import TrialTask, Visit
from posewatch.watched_source import Source


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


def test_a_visit_is_conducted_in_windows_where_there_is_a_display(
    displayed: None, monkeypatch: pytest.MonkeyPatch, setting: Setting
) -> None:
    shown: list[tuple[Path, int, object]] = []

    def conducted(studio: Studio, visit: Visit, number: int, rides: Rides) -> None:
        task = TrialTask(setting.target, WatchPlan(), setting.visit / "trials" / "x")
        shown.append((visit.folder, number, rides(task)["source"]))
        assert studio.chosen.source == rides(task)["source"]
        visit.close()

    monkeypatch.setattr(application, "run_windows", conducted)
    arguments = ("trial", "run", "--plan", setting.plan, "--codes", setting.codes)
    ran = setting.run(*arguments, "--session", setting.visit, "--source", setting.recording)
    assert (ran.status, ran.err) == (0, "")
    ((folder, number, source),) = shown
    assert (folder, number) == (setting.visit, 1)
    assert isinstance(source, Source)
    assert source.path == setting.recording
    assert ran.last_line == "counted 0 strokes in 0 trials of 0 mountings"


def test_without_anything_said_a_visit_begins_in_set_up(
    displayed: None, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(application, "run_windows", lambda studio: None)
    assert run("trial", "run").last_line == "nothing was watched"
    ran = run("trial", "run", "--headless")
    assert ran.status == 2
    assert "--plan" in ran.err
