"""What holds for every test: no folders of the user's, no window, no network, no thread left."""

from __future__ import annotations

import json
import socket
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NoReturn

import pytest
from linkage_rider import ride
from made_rides import write_ride

from posewatch.capturing import capture_target
from posewatch.core.capture import Subject
from posewatch.core.envelope import Target
from posewatch.store.target_shelf import copy_target
from posewatch.watched_source import Source

#: How the program calls its threads.
THREADS = ("capture", "deal", "pose", "sensors", "video", "voice", "watch", "writer")
RECORDED = Path(__file__).parents[1] / "demo_clips" / "landmarks"


@pytest.fixture(scope="session", autouse=True)
def _no_screen(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("QT_QPA_PLATFORM", "offscreen")
        patch.setenv("MPLBACKEND", "Agg")
        # One folder for all, since its list of fonts takes seconds to make.
        patch.setenv("MPLCONFIGDIR", str(tmp_path_factory.mktemp("matplotlib")))
        yield


@pytest.fixture(autouse=True)
def _own_places(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> None:
    """Send settings, data and log to a folder of the test's own, in child processes too."""
    home = tmp_path_factory.mktemp("home")
    for name in ("HOME", "USERPROFILE", "APPDATA", "LOCALAPPDATA", "WIN_PD_OVERRIDE_LOCAL_APPDATA"):
        monkeypatch.setenv(name, str(home))
    for name in ("CONFIG", "DATA", "STATE", "CACHE"):
        monkeypatch.setenv(f"XDG_{name}_HOME", str(home / name.lower()))
    settings = home / "settings.toml"
    settings.write_text(f"data_folder = {json.dumps(str(home / 'posewatch'))}\n", encoding="utf-8")
    monkeypatch.setenv("POSEWATCH_SETTINGS", str(settings))


@pytest.fixture(autouse=True)
def _no_network(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: Any) -> NoReturn:
        raise AssertionError("a test reached for the network")

    monkeypatch.setattr(socket.socket, "connect", refuse)
    monkeypatch.setattr(socket, "getaddrinfo", refuse)


@pytest.fixture(autouse=True)
def _no_thread_left() -> Iterator[None]:
    yield
    left = [thread for thread in threading.enumerate() if thread.name in THREADS]
    for thread in left:
        thread.join(timeout=2.0)
    assert not [thread.name for thread in left if thread.is_alive()]


@pytest.fixture(scope="session")
def reference_recording(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Recorded landmarks of 30 s of even pedalling at 90 rpm by the linkage rider."""
    path = tmp_path_factory.mktemp("reference") / "reference.landmarks.npz"
    return write_ride(path, ride(30.0))


@pytest.fixture(scope="session")
def ridden_target(reference_recording: Path) -> Target:
    """The target captured from that recording."""
    sources = [Source(reference_recording, "full")]
    return capture_target(sources, Subject("rider", "bike", "hoods"), lambda *_: None)


@pytest.fixture(scope="session")
def target_file(ridden_target: Target, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The file of that target."""
    path = tmp_path_factory.mktemp("target") / "target.json"
    copy_target(ridden_target, path)
    return path
