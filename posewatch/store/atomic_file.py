"""Writing a file whole or not at all, and never over another one."""

from __future__ import annotations

import os
import uuid
from pathlib import Path


def write_new(path: Path, text: str) -> None:
    """Write a UTF-8 text file that must not exist yet.

    The text goes to a temporary name in the same folder first, so that a failure or a kill leaves
    nothing under the real name.

    Raises:
        FileExistsError: something has that name already; it is untouched.
        OSError: the folder is missing or cannot be written to.
    """
    part = path.with_name(f".{path.name}.{uuid.uuid4().hex}.part")
    try:
        with part.open("x", encoding="utf-8", newline="\n") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        _give_name(part, path)
    finally:
        part.unlink(missing_ok=True)


def _give_name(part: Path, path: Path) -> None:
    """Let a finished file appear under a free name."""
    try:
        os.link(part, path)
    except FileExistsError:
        raise
    except OSError:
        # No hard links on this drive (FAT, some shares): take the free name, then fill it.
        os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY))
        try:
            os.replace(part, path)
        except BaseException:
            path.unlink(missing_ok=True)
            raise
