"""Pictures of every window, by the command that makes them.

In place of the model stands what it gave for these pictures when they were recorded: that a watch
runs the model itself is tested elsewhere.
"""

from __future__ import annotations

import sys
from pathlib import Path
from types import ModuleType

import pytest
from command_runs import Run
from PySide6.QtGui import QImage

from posewatch.core.records import Frame
from posewatch.core.sources import TimedPicture
from posewatch.demo import clips_folder
from posewatch.pose.bundles import PoseBundle
from posewatch.pose.recorded import RecordedLandmarks

CLIP = "hoods_drift"

NAMES = {
    "setup_start",
    "setup_consent",
    "setup_camera",
    "setup_ready",
    "rider_steadying",
    "operator_steadying",
    "rider_counting",
    "operator_counting",
    "rider_correction",
    "operator_correction",
    "operator_curtain",
    "operator_visit",
    "operator_ratings",
    "fitter",
}


@pytest.fixture
def _recorded_model(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let the model give for each of the clip's pictures what it gave before."""
    path = clips_folder() / "landmarks" / f"{CLIP}.landmarks.npz"
    found = {frame.t_ns: frame for frame in RecordedLandmarks(path)}

    class Recalled:
        def __init__(self, bundle: PoseBundle) -> None:
            self.model = bundle.model

        def detect(self, picture: TimedPicture) -> Frame:
            return found[picture.t_ns]

        def close(self) -> None:
            pass

    module = ModuleType("posewatch.pose.landmarker")
    module.Landmarker = Recalled  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "posewatch.pose.landmarker", module)


@pytest.mark.usefixtures("_recorded_model")
def test_every_window_is_pictured(run: Run, tmp_path: Path) -> None:
    folder = tmp_path / "shots"
    ran = run("demo", "--shots", folder, "--out", tmp_path / "demo")
    assert ran.status == 0
    pictures = {path.stem: QImage(str(path)) for path in folder.glob("*.png")}
    assert set(pictures) == NAMES
    for name, picture in pictures.items():
        assert (picture.width(), picture.height()) == (1280, 720), name
        colours = {picture.pixel(x, y) for x in range(0, 1280, 7) for y in range(0, 720, 7)}
        assert len(colours) > 3, f"{name} is empty"
