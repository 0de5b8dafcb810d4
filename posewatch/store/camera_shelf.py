"""Where camera profiles live: cameras/NAME/setup-vN.json under the data folder."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import count
from pathlib import Path

from posewatch.errors import BadInput
from posewatch.store.atomic_file import write_new
from posewatch.store.background_file import SUFFIX as BACKGROUND_SUFFIX
from posewatch.store.camera_profile_file import SavedProfile, read_profile_file, render_profile
from posewatch.store.lens_file import camera_folder

_FILE = re.compile(r"setup-v([1-9][0-9]{0,5})\.json")
_VERSION = re.compile(r"v([1-9][0-9]{0,5})")


def cameras_folder(data_folder: Path) -> Path:
    """Return the folder that holds all cameras."""
    return data_folder / "cameras"


def list_profiles(data_folder: Path) -> list[tuple[str, int, Path]]:
    """Return camera's name, version and file of all saved profiles, by name and version."""
    found = []
    for path in cameras_folder(data_folder).glob("*/setup-v*.json"):
        number = _FILE.fullmatch(path.name)
        if number:
            found.append((path.parent.name, int(number[1]), path))
    return sorted(found)


def background_path(profile_path: Path) -> Path:
    """Return the file beside a profile for the still background that tells a moved camera."""
    return profile_path.with_name(profile_path.stem + BACKGROUND_SUFFIX)


def find_profile(path_or_name: str | Path, data_folder: Path) -> Path:
    """Return the file of a profile.

    Args:
        path_or_name: a file, or ``NAME`` (newest set-up), or ``NAME/vN``.
        data_folder: the folder that holds the cameras.

    Raises:
        BadInput: there is no such profile.
    """
    path = Path(path_or_name)
    if path.is_file():
        return path
    parts = str(path_or_name).replace("\\", "/").split("/")
    saved = [one for one in list_profiles(data_folder) if one[0] == parts[0]]
    if len(parts) == 2:
        number = _VERSION.fullmatch(parts[1])
        saved = [one for one in saved if number and one[1] == int(number[1])]
    if len(parts) > 2 or not saved:
        raise BadInput(
            f"There is no camera {path_or_name}: no such file, and no such name in "
            f"{cameras_folder(data_folder)}.",
            "`posewatch camera level` sets a camera up.",
        )
    return saved[-1][2]


def read_profile(path_or_name: str | Path, data_folder: Path) -> SavedProfile:
    """Read a profile by the path of its file or by its camera's name, the newest one.

    Raises:
        BadInput: there is no such profile, or its file cannot be used.
    """
    return read_profile_file(find_profile(path_or_name, data_folder))


def save_profile(saved: SavedProfile, data_folder: Path) -> tuple[SavedProfile, Path]:
    """Keep a profile under the next free version; nothing is ever overwritten.

    Returns the profile with its version, and its file.

    Raises:
        BadInput: a name that cannot be a folder's, a value that no profile may hold, or a data
            folder that cannot be written to.
    """
    folder = camera_folder(saved.name, data_folder)
    taken = [version for name, version, _ in list_profiles(data_folder) if name == saved.name]
    render_profile(saved)  # what cannot be kept must not leave an empty folder either
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for version in count(max(taken, default=0) + 1):
            kept = replace(saved, version=version)
            path = folder / f"setup-v{version}.json"
            try:
                write_new(path, render_profile(kept))
            except FileExistsError:
                continue  # another program took that number in the meantime
            return kept, path
    except OSError as error:
        raise BadInput(
            f"The camera profile cannot be saved in {folder} ({error.strerror or error}).",
            "Choose a data folder that can be written to, with data_folder in the settings.",
        ) from error
    raise AssertionError("version numbers never run out")
