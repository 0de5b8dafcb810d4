"""Whether Qt can open windows here: said in words, since Qt itself ends the whole program."""

from __future__ import annotations

import ctypes
import os
import sys
from pathlib import Path

from PySide6.QtCore import QLibraryInfo

from posewatch.errors import BadInput

#: What Qt's plugin for X11 needs of Debian beyond a minimal installation (found with ldd).
PACKAGES = (
    "libegl1 libgl1 libdbus-1-3 libfontconfig1 libxkbcommon-x11-0 libxcb-cursor0 libxcb-icccm4 "
    "libxcb-keysyms1 libxcb-image0 libxcb-render-util0 libxcb-shape0 libxcb-xkb1"
)


def require_display() -> None:
    """Make sure that Qt's plugin for the screen at hand can be loaded.

    Raises:
        BadInput: it cannot; says which library is missing.
    """
    if not sys.platform.startswith("linux") or os.environ.get("QT_QPA_PLATFORM"):
        return
    if os.environ.get("WAYLAND_DISPLAY") or not os.environ.get("DISPLAY"):
        return
    plugins = Path(QLibraryInfo.path(QLibraryInfo.LibraryPath.PluginsPath))
    try:
        ctypes.CDLL(str(plugins / "platforms" / "libqxcb.so"))
    except OSError as error:
        raise BadInput(
            f"Windows cannot be opened: {error}.",
            f"Install what is missing (on Debian: apt-get install {PACKAGES}), or go on without "
            "windows: --headless.",
        ) from error
