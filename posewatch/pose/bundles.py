"""Find a pose model bundle, check it, read it.

The bundles that come with the program are known by size and SHA-256; a bundle of the user's own
(for example a larger model) is given by its path and named after its file.
"""

from __future__ import annotations

import hashlib
import importlib.resources
import json
import zipfile
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, version
from importlib.resources.abc import Traversable
from pathlib import Path

from posewatch.core.sources import PoseModelInfo
from posewatch.errors import ModelProblem

DEFAULT_MODEL = "full"
SHIPPED_MODELS = ("lite", "full")

#: What the Tasks library looks for inside a bundle.
NETWORKS = ("pose_detector.tflite", "pose_landmarks_detector.tflite")


@dataclass(frozen=True, slots=True, eq=False)
class PoseBundle:
    """A checked bundle, ready for the landmarker."""

    data: bytes
    model: PoseModelInfo


def pose_library() -> str:
    """Return name and version of the installed pose library, without loading it.

    Raises:
        ModelProblem: it is not installed.
    """
    try:
        return f"mediapipe {version('mediapipe')}"
    except PackageNotFoundError as cause:
        raise ModelProblem(
            "The pose library mediapipe is not installed.",
            "Install posewatch again with its dependencies.",
        ) from cause


def load_bundle(model: str = DEFAULT_MODEL, folder: Traversable | None = None) -> PoseBundle:
    """Read and check a bundle.

    Args:
        model: ``lite`` or ``full``, or the path of a bundle of the user's own.
        folder: where the shipped bundles are; None = in the installed package.

    Raises:
        ModelProblem: the bundle is missing, altered, or not a pose bundle.
    """
    if model in SHIPPED_MODELS:
        folder = folder or importlib.resources.files("posewatch.pose.models")
        return _shipped(model, folder)
    return _own(Path(model))


def _shipped(name: str, folder: Traversable) -> PoseBundle:
    again = "Install posewatch again."
    try:
        table = json.loads((folder / "bundles.json").read_text(encoding="utf-8"))
        row = table["bundles"][name]
        file_name, size, expected = row["file"], row["size_bytes"], row["sha256"]
    except (OSError, ValueError, KeyError, TypeError) as cause:
        raise ModelProblem(
            f"The table of pose models in {folder} is missing or damaged.", again
        ) from cause
    path = folder / file_name
    try:
        data = path.read_bytes()
    except OSError as cause:
        raise ModelProblem(f"The pose model {path} cannot be read.", again) from cause
    if len(data) != size:
        raise ModelProblem(
            f"The pose model {path} has {len(data)} bytes instead of {size}: it is incomplete"
            " or altered.",
            again,
        )
    sha256 = hashlib.sha256(data).hexdigest()
    if sha256 != expected:
        raise ModelProblem(
            f"The pose model {path} is altered: its SHA-256 is {sha256[:12]}... instead of"
            f" {expected[:12]}... .",
            again,
        )
    return PoseBundle(data, PoseModelInfo(name, sha256, pose_library()))


def _own(path: Path) -> PoseBundle:
    choices = f"Give {' or '.join(SHIPPED_MODELS)}, or the path of a pose bundle (.task file)."
    if not path.is_file():
        raise ModelProblem(f"There is no pose model {path}.", choices)
    try:
        with zipfile.ZipFile(path) as bundle:
            missing = set(NETWORKS) - set(bundle.namelist())
        data = path.read_bytes()
    except (OSError, zipfile.BadZipFile) as cause:
        raise ModelProblem(f"{path} cannot be read as a pose bundle.", choices) from cause
    if missing:
        raise ModelProblem(f"{path} holds no {' and no '.join(sorted(missing))}.", choices)
    sha256 = hashlib.sha256(data).hexdigest()
    return PoseBundle(data, PoseModelInfo(path.stem, sha256, pose_library()))
