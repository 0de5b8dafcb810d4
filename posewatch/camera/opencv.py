"""OpenCV as this program uses it: quiet, and without a claim on the windows.

Every other module of this package takes ``cv2`` from here, so that what must be set before the
import and undone after it is in one place.
"""

from __future__ import annotations

import os

# Opening a camera on Windows takes up to a minute with hardware transforms (opencv/opencv#17687).
os.environ.setdefault("OPENCV_VIDEOIO_MSMF_ENABLE_HW_TRANSFORMS", "0")
# The decoder's own log says on the terminal what our errors say better (-8 = AV_LOG_QUIET).
os.environ.setdefault("OPENCV_FFMPEG_LOGLEVEL", "-8")

import cv2 as cv2

# OpenCV's wheel points Qt to its own old plugins, which the windows must not load.
for _name in ("QT_QPA_PLATFORM_PLUGIN_PATH", "QT_QPA_FONTDIR"):
    os.environ.pop(_name, None)

cv2.utils.logging.setLogLevel(cv2.utils.logging.LOG_LEVEL_SILENT)
