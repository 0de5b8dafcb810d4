"""Finding and checking pose model bundles."""

from __future__ import annotations

import hashlib
import importlib.resources
import json
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from posewatch.errors import ModelProblem
from posewatch.pose import bundles
from posewatch.pose.bundles import DEFAULT_MODEL, SHIPPED_MODELS, load_bundle

MODELS = Path(str(importlib.resources.files("posewatch.pose.models")))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A copy of the shipped lite bundle and the table, to be spoiled."""
    shutil.copy(MODELS / "lite.task", tmp_path)
    shutil.copy(MODELS / "bundles.json", tmp_path)
    return tmp_path


@pytest.mark.parametrize("name", SHIPPED_MODELS)
def test_shipped_bundles_are_the_ones_in_the_table(name: str) -> None:
    row = json.loads((MODELS / "bundles.json").read_text())["bundles"][name]
    bundle = load_bundle(name)
    assert bundle.model.name == name
    assert bundle.model.sha256 == row["sha256"] == hashlib.sha256(bundle.data).hexdigest()
    assert bundle.model.library.startswith("mediapipe 0.10.3")


def test_the_default_is_full() -> None:
    assert DEFAULT_MODEL == "full"
    assert load_bundle().model.name == "full"


def test_an_altered_bundle_is_refused(folder: Path) -> None:
    data = bytearray((folder / "lite.task").read_bytes())
    data[3_000_000] ^= 1
    (folder / "lite.task").write_bytes(data)
    with pytest.raises(ModelProblem, match="altered: its SHA-256") as caught:
        load_bundle("lite", folder)
    assert "Install posewatch again" in caught.value.advice


def test_an_incomplete_bundle_is_refused(folder: Path) -> None:
    data = (folder / "lite.task").read_bytes()
    (folder / "lite.task").write_bytes(data[:1000])
    with pytest.raises(ModelProblem, match="1000 bytes instead of 5786646"):
        load_bundle("lite", folder)


def test_a_missing_bundle_is_explained(folder: Path) -> None:
    (folder / "lite.task").unlink()
    with pytest.raises(ModelProblem, match=r"lite\.task cannot be read"):
        load_bundle("lite", folder)


@pytest.mark.parametrize("table", [None, "", "{}", '{"bundles": {"lite": {"file": "lite.task"}}}'])
def test_a_damaged_table_is_explained(folder: Path, table: str | None) -> None:
    (folder / "bundles.json").unlink()
    if table is not None:
        (folder / "bundles.json").write_text(table)
    with pytest.raises(ModelProblem, match="table of pose models"):
        load_bundle("lite", folder)


def test_a_bundle_of_ones_own_is_named_after_its_file(tmp_path: Path) -> None:
    own = tmp_path / "heavy.task"
    with zipfile.ZipFile(own, "w") as bundle:
        bundle.writestr("pose_detector.tflite", b"one")
        bundle.writestr("pose_landmarks_detector.tflite", b"two")
    loaded = load_bundle(str(own))
    assert loaded.data == own.read_bytes()
    assert loaded.model.name == "heavy"
    assert loaded.model.sha256 == hashlib.sha256(own.read_bytes()).hexdigest()


def test_a_path_without_a_file_names_the_choices(tmp_path: Path) -> None:
    with pytest.raises(ModelProblem, match="lite or full"):
        load_bundle(str(tmp_path / "heavy.task"))


def test_a_file_that_is_no_zip_is_refused(tmp_path: Path) -> None:
    (tmp_path / "heavy.task").write_text("no bundle")
    with pytest.raises(ModelProblem, match="cannot be read as a pose bundle"):
        load_bundle(str(tmp_path / "heavy.task"))


def test_a_zip_without_the_networks_is_refused(tmp_path: Path) -> None:
    with zipfile.ZipFile(tmp_path / "heavy.task", "w") as bundle:
        bundle.writestr("pose_detector.tflite", b"one")
    with pytest.raises(ModelProblem, match=r"holds no pose_landmarks_detector\.tflite"):
        load_bundle(str(tmp_path / "heavy.task"))


def test_a_missing_library_is_explained(monkeypatch: pytest.MonkeyPatch) -> None:
    def not_there(name: str) -> str:
        raise bundles.PackageNotFoundError(name)

    monkeypatch.setattr(bundles, "version", not_there)
    with pytest.raises(ModelProblem, match="not installed"):
        load_bundle("lite")


def test_finding_a_bundle_loads_no_heavy_library() -> None:
    program = (
        "import sys\n"
        "from posewatch.pose.bundles import load_bundle\n"
        "load_bundle('lite')\n"
        "print({'mediapipe', 'cv2', 'matplotlib', 'flatbuffers'} & set(sys.modules))\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program],
        capture_output=True,
        text=True,
        check=True,
        cwd=MODELS.parents[2],
    )
    assert done.stdout == "set()\n"
