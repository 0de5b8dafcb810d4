"""Where targets live: rider/bike/hands/vN.json under the data folder, one file a version."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from itertools import count
from pathlib import Path

from posewatch.core.envelope import Target
from posewatch.errors import BadInput
from posewatch.store.atomic_file import write_new
from posewatch.store.target_file import read_target_file, render_target
from posewatch.store.validated import write_named

LONGEST_NAME = 60
_VERSION = re.compile(r"v([1-9][0-9]{0,5})(?:\.json)?")
#: Names that Windows keeps for devices, in any case and with any ending (Microsoft, "Naming files,
#: paths, and namespaces", from memory).
_DEVICES = re.compile(r"(con|prn|aux|nul|com[0-9]|lpt[0-9])(\..*)?", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class SavedTarget:
    """A target's place on the shelf; the file itself has not been read."""

    rider: str
    bike: str
    hands: str
    version: int
    path: Path

    @property
    def name(self) -> str:
        """The name by which commands accept it."""
        return f"{self.rider}/{self.bike}/{self.hands}/v{self.version}"


def shelf(data_folder: Path) -> Path:
    """Return the folder that holds all saved targets."""
    return data_folder / "targets"


def list_targets(data_folder: Path) -> list[SavedTarget]:
    """Return the saved targets by rider, bike, hands and version; unreadable folders are left out.

    Files that do not have the name of a version are none of ours and are left out too.
    """
    found = []
    for path in shelf(data_folder).glob("*/*/*/v*.json"):
        number = _VERSION.fullmatch(path.name)
        if number:
            rider, bike, hands = path.parts[-4:-1]
            found.append(SavedTarget(rider, bike, hands, int(number[1]), path))
    return sorted(found, key=lambda saved: (saved.rider, saved.bike, saved.hands, saved.version))


def hands_with_target(rider: str, bike: str, data_folder: Path) -> frozenset[str]:
    """Return the hand positions for which a rider has a target on a bike."""
    saved = list_targets(data_folder)
    return frozenset(one.hands for one in saved if (one.rider, one.bike) == (rider, bike))


def read_target(path_or_name: str | Path, data_folder: Path) -> Target:
    """Read a target by the path of its file or by its name on the shelf.

    Args:
        path_or_name: a file, or ``rider/bike/hands`` (newest version), or ``rider/bike/hands/vN``.
        data_folder: the folder that holds the shelf.

    Raises:
        BadInput: there is no such target, or its file cannot be used.
    """
    path = Path(path_or_name)
    if path.is_file():
        return read_target_file(path)
    parts = str(path_or_name).replace("\\", "/").split("/")
    if len(parts) in (3, 4) and all(name_problem(part) is None for part in parts):
        saved = [s for s in list_targets(data_folder) if [s.rider, s.bike, s.hands] == parts[:3]]
        if len(parts) == 4:
            number = _VERSION.fullmatch(parts[3])
            saved = [s for s in saved if number and s.version == int(number[1])]
        if saved:
            return read_target_file(saved[-1].path)
    raise BadInput(
        f"There is no target {path_or_name}: no such file, and no such name in "
        f"{shelf(data_folder)}.",
        "`posewatch target list` shows the saved targets.",
    )


def save_target(target: Target, data_folder: Path) -> tuple[Target, Path]:
    """Keep a target under the next free version; nothing is ever overwritten.

    Returns the target with its version, and its file. One without a time of creation gets now's.

    Raises:
        BadInput: a name that cannot be a folder's name, a value that no target may hold, or a
            data folder that cannot be written to.
    """
    require_names(target.rider, target.bike, target.hands)
    folder = shelf(data_folder) / target.rider / target.bike / target.hands
    numbers = (_VERSION.fullmatch(path.name) for path in folder.glob("v*.json"))
    taken = [int(number[1]) for number in numbers if number]
    created = target.created or datetime.now(UTC).astimezone().isoformat(timespec="seconds")
    render_target(target)  # what cannot be kept must not leave empty folders either
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for version in count(max(taken, default=0) + 1):
            kept = replace(target, version=version, created=created)
            path = folder / f"v{version}.json"
            try:
                write_new(path, render_target(kept))
            except FileExistsError:
                continue  # another program took that number in the meantime
            return kept, path
    except OSError as error:
        raise BadInput(
            f"The target cannot be saved in {folder} ({error.strerror or error}).",
            "Choose a data folder that can be written to, with data_folder in the settings.",
        ) from error
    raise AssertionError("version numbers never run out")


def require_names(rider: str, bike: str, hands: str) -> None:
    """Refuse names under which no target can be kept.

    Raises:
        BadInput: says which, and why.
    """
    for what, name in (("rider", rider), ("bike", bike), ("hands", hands)):
        problem = name_problem(name)
        if problem is not None:
            raise BadInput(f"The {what} cannot be called {name!r}: {problem}.", "Choose another.")


def copy_target(target: Target, path: Path) -> None:
    """Write a target to a file of its own, for keeping or passing on.

    Raises:
        BadInput: the file exists already, or cannot be written.
    """
    write_named(path, render_target(target))


def name_problem(name: str) -> str | None:
    """Say why a name cannot be a folder's name on all three systems; None = it can."""
    if not name or len(name) > LONGEST_NAME:
        return f"it needs 1 to {LONGEST_NAME} characters"
    if not all(letter.isalnum() or letter in " ._-" for letter in name):
        return "only letters, digits, space, point, underscore and hyphen are allowed"
    if not (name[0].isalnum() and name[-1] not in " ."):
        return "it must begin with a letter or digit and not end with a space or point"
    if _DEVICES.fullmatch(name):
        return "some systems keep that name for a device"
    return None
