"""What was made of a recording and lies elsewhere: exports, figures. Noted, to be deleted with it.

A recording's folder holds ``derived.jsonl``: a line for each file with its path and SHA-256, and
for each folder that was made for such files. Only a file that is still as it was made is deleted
with the recording; whatever somebody changed is theirs.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

FILE_NAME = "derived.jsonl"


@dataclass(frozen=True, slots=True)
class Derived:
    """A file made of a recording, or a folder made for some. sha256: of a file, empty = folder."""

    path: Path
    sha256: str = ""

    @property
    def is_as_made(self) -> bool:
        """Whether it is there and nobody changed it; of a folder, whether it is there."""
        if not self.sha256:
            return self.path.is_dir() and not self.path.is_symlink()
        try:
            return not self.path.is_symlink() and _sha256(self.path) == self.sha256
        except OSError:
            return False


def note_derived(recording: Path, files: Iterable[Path], folder: Path | None = None) -> None:
    """Note files that were just made of a recording, and the folder that was made for them.

    Raises:
        OSError: a file cannot be read, or the recording's folder cannot be written to.
    """
    entries = [{"path": str(path.absolute()), "sha256": _sha256(path)} for path in files]
    if folder is not None:
        entries.append({"path": str(folder.absolute()), "sha256": ""})
    with (recording / FILE_NAME).open("a", encoding="utf-8", newline="\n") as file:
        file.writelines(json.dumps(entry, ensure_ascii=False) + "\n" for entry in entries)
        file.flush()
        os.fsync(file.fileno())


def derived_of(recording: Path) -> tuple[Derived, ...]:
    """Return what was noted, in the order made; a line that was cut off is passed over."""
    try:
        lines = (recording / FILE_NAME).read_text(encoding="utf-8", errors="replace").splitlines()
    except OSError:
        return ()
    found: dict[Path, Derived] = {}
    for line in lines:
        try:
            entry = json.loads(line)
            made = Derived(Path(entry["path"]), str(entry["sha256"]))
        except (ValueError, TypeError, LookupError):
            continue
        found[made.path] = made
    return tuple(found.values())


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
