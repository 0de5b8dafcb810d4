"""Send what native libraries write on the terminal into a file.

The pose library and the video decoder write log lines straight to file descriptor 2, past Python.
They would fall between the lines that are meant for the person at the terminal.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TextIO

STDERR = 2


@contextmanager
def native_noise_to(path: Path) -> Iterator[None]:
    """Append everything written to file descriptor 2 to ``path`` while the block runs.

    What Python writes to ``sys.stderr`` still reaches the terminal. The switch is for the whole
    process: enter it once, on the main thread, before the libraries are loaded (on Windows a
    library may remember the descriptor it found when it was loaded). A program started inside the
    block inherits the file. Python objects that took hold of the old ``sys.stderr`` before, such
    as a logging handler, write into the file.

    Args:
        path: the file, made if need be; its folder must exist.

    Raises:
        OSError: the file cannot be opened; nothing was switched.
    """
    noise = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o644)
    if noise == STDERR:
        # The process was started without standard error, and the file took its place.
        try:
            yield
        finally:
            os.close(noise)
        return
    try:
        original = os.dup(STDERR)
    except OSError:
        original = None
    os.dup2(noise, STDERR)
    os.close(noise)
    before = sys.stderr
    own = None
    if original is not None and _writes_to(before, STDERR):
        own = _reopened(before, original)
        sys.stderr = own
    try:
        yield
    finally:
        if own is not None:
            own.close()  # keeps the descriptor, but no one who held on to it writes there later
            if sys.stderr is own:
                sys.stderr = before
        if original is None:
            os.close(STDERR)
        else:
            os.dup2(original, STDERR)
            os.close(original)


def _writes_to(stream: TextIO | None, descriptor: int) -> bool:
    """Whether a stream goes to this descriptor; a capturing object of a test runner does not."""
    try:
        return stream is not None and stream.fileno() == descriptor
    except (AttributeError, OSError, ValueError):
        return False


def _reopened(stream: TextIO, descriptor: int) -> TextIO:
    """Flush a stream and open one like it on another descriptor, which stays open with it."""
    stream.flush()
    return open(
        descriptor,
        "w",
        buffering=1,
        encoding=stream.encoding,
        errors=stream.errors,
        closefd=False,
    )
