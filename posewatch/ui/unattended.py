"""The windows with nobody before them, for benchmarks: polled here, painted on no display."""

from __future__ import annotations

import os
import statistics
import time
from array import array
from collections.abc import Callable

from PySide6.QtCore import QCoreApplication, QEvent
from PySide6.QtWidgets import QApplication

from posewatch.studio import Studio
from posewatch.ui.application import LOOK_MS, opened

#: A look that painted nothing says nothing about painting.
PAINTED_MS = 0.1


def watch_unattended(
    studio: Studio, seconds: float, on_round: Callable[[float], None]
) -> dict[str, float]:
    """Watch what the studio has chosen for so long, in operator's and rider's window.

    on_round: is told the seconds gone, often.

    Returns:
        the median time that painting takes where there is something to paint, ms, by window.

    Raises:
        BaseException: whatever ended the watch.
    """
    app = QApplication.instance() or QApplication(["posewatch"])
    windows = opened(studio)
    # Compact, and only what was painted: this runs for half an hour where memory is measured.
    paint_ms = {"operator's window": array("d"), "rider's window": array("d")}
    try:
        windows.start(lambda: None, polls=False)
        windows.operator.resize(1920, 1080)
        windows.rider.resize(1920, 1080)
        windows.rider.show()
        app.processEvents()
        begun_s = time.perf_counter()
        while (now_s := time.perf_counter()) - begun_s < seconds and studio.engine.is_busy:
            windows.look()
            for name, window in zip(paint_ms, (windows.operator, windows.rider), strict=True):
                before_s = time.perf_counter()
                QCoreApplication.sendPostedEvents(window, QEvent.Type.UpdateRequest.value)
                took_ms = 1e3 * (time.perf_counter() - before_s)
                if took_ms > PAINTED_MS:
                    paint_ms[name].append(took_ms)
            app.processEvents()
            on_round(now_s - begun_s)
            time.sleep(LOOK_MS / 1000)
        if studio.error is not None:
            raise studio.error
    finally:
        windows.end()
    return {name: statistics.median(took) for name, took in paint_ms.items() if took}


def use_no_display() -> None:
    """Let windows be painted without a display; before the first of them is made."""
    os.environ["QT_QPA_PLATFORM"] = "offscreen"
