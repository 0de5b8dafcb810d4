"""Pictures of every window, by the command that makes them."""

from __future__ import annotations

from pathlib import Path

import pytest
from command_runs import Run
from PySide6.QtGui import QImage

pytestmark = pytest.mark.model

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
    "fitter",
}


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
