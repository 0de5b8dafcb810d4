"""Lock files: is a session or visit being written, by this program or another one?"""

from __future__ import annotations

import contextlib
from pathlib import Path

from filelock import FileLock, Timeout

from posewatch.errors import BadInput

SESSION_LOCK, VISIT_LOCK = "session.lock", "visit.lock"


def locked(path: Path) -> FileLock:
    """Return the lock of a file, taken; the system lets go of it when the program dies.

    Raises:
        BadInput: another program has it, or it cannot be made.
    """
    lock = FileLock(path, timeout=0)
    try:
        lock.acquire()
    except Timeout as error:
        raise BadInput(
            f"Another program is at work on {path.parent}.", "Close it there first."
        ) from error
    except OSError as error:
        raise BadInput(
            f"{path.parent} cannot be written to ({error.strerror or error}).",
            "Check your rights there, and that the drive is not read-only.",
        ) from error
    return lock


def let_go(lock: FileLock) -> None:
    """Let go of a lock and leave no file of it; twice is harmless."""
    if lock.is_locked:
        lock.release()
        with contextlib.suppress(OSError):
            Path(lock.lock_file).unlink()


def is_in_use(folder: Path) -> bool:
    """Tell whether a session's or visit's folder is being written now."""
    for name in (SESSION_LOCK, VISIT_LOCK):
        path = folder / name
        if not path.exists():
            continue
        try:
            with FileLock(path, timeout=0):
                pass
        except Timeout:
            return True
        except OSError:
            continue  # a folder that cannot be written to is not being written
    return False
