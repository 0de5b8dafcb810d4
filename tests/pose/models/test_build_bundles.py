"""Making the bundles again from the vendor's bytes inside the shipped ones."""

from __future__ import annotations

import hashlib
import importlib.resources
import json
import zipfile
from pathlib import Path

import pytest

from posewatch.pose.models.build_bundles import (
    BUNDLE_ALIGNMENT,
    DETECTOR,
    LANDMARKS,
    LOCAL_HEADER_LENGTH,
    NETWORK_ALIGNMENT,
    SHIPPED,
    build,
    read_network,
    with_metadata,
)

MODELS = Path(str(importlib.resources.files("posewatch.pose.models")))
TABLE = json.loads((MODELS / "bundles.json").read_text())


def vendor_bytes(network: bytes) -> bytes:
    """Cut off the new root: TFLite files carry their identifier TFL3 at byte 4."""
    return network[network.index(b"TFL3", 8) - 4 :]


@pytest.fixture(params=SHIPPED)
def package(request: pytest.FixtureRequest, tmp_path: Path) -> tuple[str, Path]:
    """A folder with the vendor's two files for one model."""
    name: str = request.param
    with zipfile.ZipFile(MODELS / f"{name}.task") as bundle:
        detector = bundle.read("pose_detector.tflite")
        marks = bundle.read("pose_landmarks_detector.tflite")
    (tmp_path / DETECTOR.file_name).write_bytes(vendor_bytes(detector))
    (tmp_path / LANDMARKS[name].file_name).write_bytes(vendor_bytes(marks))
    return name, tmp_path


def test_the_networks_are_the_vendors_byte_for_byte(package: tuple[str, Path]) -> None:
    name, folder = package
    for file_name, expected in TABLE["bundles"][name]["inputs_sha256"].items():
        assert hashlib.sha256((folder / file_name).read_bytes()).hexdigest() == expected


def test_the_same_input_gives_the_shipped_bundle(
    package: tuple[str, Path], capsys: pytest.CaptureFixture[str]
) -> None:
    name, folder = package
    row = build(folder, name, folder)
    assert row == TABLE["bundles"][name]
    assert (folder / f"{name}.task").read_bytes() == (MODELS / f"{name}.task").read_bytes()
    assert capsys.readouterr().out.startswith(str(row["sha256"]))


def test_networks_start_aligned_and_keep_their_own_alignment() -> None:
    for name in SHIPPED:
        path = MODELS / f"{name}.task"
        with zipfile.ZipFile(path) as bundle:
            for entry in bundle.infolist():
                assert entry.compress_type == zipfile.ZIP_STORED
                header = LOCAL_HEADER_LENGTH + len(entry.filename) + len(entry.extra)
                assert (entry.header_offset + header) % BUNDLE_ALIGNMENT == 0
                network = bundle.read(entry)
                added = len(network) - len(vendor_bytes(network))
                assert added % NETWORK_ALIGNMENT == 0


def test_an_altered_input_is_refused(package: tuple[str, Path]) -> None:
    _, folder = package
    path = folder / DETECTOR.file_name
    data = bytearray(path.read_bytes())
    data[-1] ^= 1
    path.write_bytes(data)
    with pytest.raises(ValueError, match="has SHA-256"):
        read_network(folder, DETECTOR)


def test_a_missing_input_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="is not in"):
        read_network(tmp_path, DETECTOR)


def test_a_network_of_odd_length_is_refused() -> None:
    with pytest.raises(ValueError, match="alignment"):
        with_metadata(b"x" * 17, DETECTOR)
